"""The parts of the box, each a frozen state and pure functions; none knows another. The notebook must come last."""

from __future__ import annotations

from typing import Any

from firmware.parts.answer import ANSWER
from firmware.parts.catch import CATCH
from firmware.parts.chord_check import CHORD_CHECK
from firmware.parts.drills import DRILLS
from firmware.parts.drone import DRONE
from firmware.parts.ear import EAR
from firmware.parts.eraser import ERASER
from firmware.parts.gain import GAIN
from firmware.parts.keeper import KEEPER
from firmware.parts.keyboard import KEYBOARD
from firmware.parts.lamp import LAMP
from firmware.parts.level import LEVEL
from firmware.parts.light import LIGHT
from firmware.parts.long_tones import LONG_TONES
from firmware.parts.moving import MOVING
from firmware.parts.notebook import NOTEBOOK
from firmware.parts.panel import PANEL
from firmware.parts.part import Part
from firmware.parts.plan import PLAN
from firmware.parts.pulse import PULSE
from firmware.parts.releaser import RELEASER
from firmware.parts.replay import REPLAY
from firmware.parts.replay_timing import REPLAY_TIMING
from firmware.parts.rests import RESTS
from firmware.parts.room import ROOM
from firmware.parts.sound_card import SOUND_CARD
from firmware.parts.takes import TAKES
from firmware.parts.timing import TIMING
from firmware.parts.tunings import TUNINGS

PARTS: tuple[Part[Any], ...] = (
    DRONE,
    TUNINGS,
    MOVING,
    LONG_TONES,
    KEYBOARD,
    EAR,
    ANSWER,
    CATCH,
    CHORD_CHECK,
    PULSE,
    TIMING,
    TAKES,
    REPLAY,
    ERASER,
    REPLAY_TIMING,
    RESTS,
    ROOM,
    LEVEL,
    GAIN,
    DRILLS,
    PLAN,
    PANEL,
    LIGHT,
    SOUND_CARD,
    LAMP,
    RELEASER,
    KEEPER,
    NOTEBOOK,
)
