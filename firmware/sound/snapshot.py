"""The one frozen value that tells the engine what to sound like."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from firmware.music.program import Program

PLAIN: Final = Program()
"""Four plain beats in a bar, 92 a minute, without end."""


@dataclass(frozen=True, slots=True)
class ToneSound:
    """One drone tone: exact frequency in Hz, level in dB relative to the drone's own level.

    Two snapshots that both hold a tone of the same `hz` mean the same tone: it sounds on with unbroken phase.
    """

    hz: float
    level_db: float = 0.0


@dataclass(frozen=True, slots=True)
class DroneSound:
    """The drone: its tones, timbre (a name in `firmware.sound.timbres`), level, and its time to come and go."""

    on: bool = False
    tones: tuple[ToneSound, ...] = ()
    timbre: str = "reed"
    level_db: float = -12.0
    fade_seconds: float = 0.08
    then: DroneSound | None = None
    """What the drone becomes on sample `due`, so that a chord can move on the beat."""
    due: int = 0


@dataclass(frozen=True, slots=True)
class PulseSound:
    """The pulse: time 0 of the program falls on sample `start`, which may lie between two samples.

    Every start has its own number `run`: within a run no stroke is struck twice, however program and start change.
    """

    on: bool = False
    start: float = 0.0
    program: Program = PLAIN
    run: int = 0
    level_db: float = -12.0


@dataclass(frozen=True, slots=True)
class ReplaySound:
    """A take played back; every start has its own `token`, so that old samples are never mistaken for new ones."""

    on: bool = False
    token: int = 0
    level_db: float = 0.0


@dataclass(frozen=True, slots=True)
class SweepSound:
    """The test signal of the room check, from sample `start` on; everything else is mute while it is on."""

    on: bool = False
    start: int = 0
    level_db: float = -18.0


@dataclass(frozen=True, slots=True)
class AnswerSound:
    """The answer: exact target of the note that is played, and whether it sounds in that octave or the one below."""

    on: bool = False
    hz: float = 440.0
    octave: str = "same"
    level_db: float = -18.0


@dataclass(frozen=True, slots=True)
class Sound:
    """All that sounds."""

    drone: DroneSound = field(default_factory=DroneSound)
    pulse: PulseSound = field(default_factory=PulseSound)
    replay: ReplaySound = field(default_factory=ReplaySound)
    sweep: SweepSound = field(default_factory=SweepSound)
    answer: AnswerSound = field(default_factory=AnswerSound)
    keyboard: DroneSound = field(default_factory=DroneSound)
    """The notes of the MIDI keyboard: steady tones, made like those of the drone."""
    master_db: float = 0.0


SILENCE = Sound()
