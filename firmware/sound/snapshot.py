"""The one frozen value that tells the engine what to sound like."""

from __future__ import annotations

from dataclasses import dataclass, field


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


@dataclass(frozen=True, slots=True)
class PulseSound:
    """A plain click: beat 1 of bar 1 falls on sample `start`; tempo in beats per minute."""

    on: bool = False
    start: int = 0
    tempo: float = 92.0
    beats: int = 4
    level_db: float = -12.0


@dataclass(frozen=True, slots=True)
class ReplaySound:
    """A take played back; every start has its own `token`, so that old samples are never mistaken for new ones."""

    on: bool = False
    token: int = 0
    level_db: float = 0.0


@dataclass(frozen=True, slots=True)
class Sound:
    """All that sounds."""

    drone: DroneSound = field(default_factory=DroneSound)
    pulse: PulseSound = field(default_factory=PulseSound)
    replay: ReplaySound = field(default_factory=ReplaySound)
    master_db: float = 0.0


SILENCE = Sound()
