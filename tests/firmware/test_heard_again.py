"""A recording is heard as the box heard it; the whole way, with files, is tried in hardware/commands/test_redo.py."""

from __future__ import annotations

import numpy as np

from firmware.events import HarmonyChanged
from firmware.heard_again import heard_again
from firmware.music.harmony import Harmony, tones_of
from firmware.music.keys import key_of
from firmware.units import BLOCK, RATE

HARMONY = Harmony(key_of("A", "major"))


def test_a_held_note_becomes_a_line_with_the_time_of_the_rehearsal() -> None:
    t = np.arange(3 * RATE // BLOCK * BLOCK) / RATE
    tone = (0.1 * np.sin(2 * np.pi * 440.0 * 2 ** (7 / 1200) * t) * (t > 0.5)).astype(np.float32).reshape(-1, BLOCK)
    blocks = ((block, np.zeros(BLOCK, np.float32)) for block in tone)
    lines = list(heard_again(blocks, (HarmonyChanged(5, HARMONY, tones_of(HARMONY), sounding=False),), 100 * RATE))
    notes = [line for name, line in lines if name == "notes.csv"]
    assert len(notes) == 2
    start, _, key, _, degree, _, concert, cents, *_ = notes[1].split(",")
    assert 100.4 < float(start) < 100.7
    assert (key, degree, concert) == ("A major", "1", "A4")
    assert abs(float(cents) - 7.0) < 0.1
