"""What is heard of the room itself, as events: its level, and what the room check found."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.events import Event


@dataclass(frozen=True, slots=True)
class SoundRead(Event):
    """A-weighted sound at the microphone over the `seconds` that end now; levels in dB re full scale, before any gain.

    `mean_db` is the energy average, `fast_db` the greatest level with time weighting F, `slow_db` that with S now.
    `hum_hz` is 50 or 60 with the level of the hum, or 0; `rides` suspects an automatic gain.
    """

    seconds: float
    mean_db: float
    fast_db: float
    slow_db: float
    hum_hz: float = 0.0
    hum_db: float = -120.0
    rides: bool = False


@dataclass(frozen=True, slots=True)
class RoomChecked(Event):
    """What the room check found: the way from the loudspeaker to the microphone.

    Gain of that way in dB, its delay in milliseconds, reverberation time in seconds (None where noise hides it), noise
    of the room in dB re full scale (A-weighted), hum (0 for none), how far apart the clocks are, distortion of the
    loudspeaker in dB, whether the microphone clipped, and how far down the box can take its own sound from 100 to
    1000 Hz.
    """

    level_db: float
    delay_ms: float
    rt60_s: float | None
    floor_db: float
    hum_hz: float
    clock_ppm: float
    distortion_db: float
    clipped: bool
    removal_db: float


@dataclass(frozen=True, slots=True)
class SoundTold(Event):
    """Sound level of the rehearsal so far: energy average and greatest fast level.

    In dB(A) when `calibrated` against a meter, with the dose in per cent of a day's (NIOSH 98-126) over the
    `counted_s` seconds that were calibrated; else in dB re full scale, A-weighted, without a dose.
    """

    seconds: float
    mean_db: float
    loudest_db: float
    calibrated: bool
    dose: float = 0.0
    counted_s: float = 0.0
