"""The test signal of the room check: an exponential sine sweep, played twice without a break."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

import numpy as np

from firmware.sound.snapshot import SweepSound
from firmware.units import RATE, Samples, gain_of

SWEEP_SECONDS: Final = 1.5
REPEATS: Final = 2
"""What differs between the answers of the room to two equal sweeps is noise and the offset of the clocks."""

LOW_HZ: Final = 16.0
HIGH_HZ: Final = 20_000.0

FADE_IN_SECONDS: Final = 0.04
FADE_OUT_SECONDS: Final = 0.004

LOUDEST_DB: Final = -6.0
"""A sweep is never louder than this peak."""


@lru_cache(maxsize=2)
def sweep(rate: int = RATE) -> Samples:
    """One sweep with a peak of 1, shape (1.5 * rate,), read-only.

    Notes
    -----
    Instantaneous frequency grows as `LOW_HZ * exp(t ln(HIGH_HZ / LOW_HZ) / T)`, so that the energy is pink and whatever
    a loudspeaker distorts arrives before the linear answer once the sweep is divided out (Farina 2000, "Simultaneous
    measurement of impulse response and distortion with a swept-sine technique", 108th AES Convention).
    """
    count = round(SWEEP_SECONDS * rate)
    time = np.arange(count) / rate
    steep = math.log(min(HIGH_HZ, 0.42 * rate) / LOW_HZ) / SWEEP_SECONDS
    sound = np.sin(2 * np.pi * LOW_HZ / steep * np.expm1(steep * time))
    rise, fall = round(FADE_IN_SECONDS * rate), round(FADE_OUT_SECONDS * rate)
    sound[:rise] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(rise) / rise)
    sound[-fall:] *= 0.5 + 0.5 * np.cos(np.pi * (np.arange(fall) + 1) / fall)
    result = sound.astype(np.float32)
    result.flags.writeable = False
    return result


class Sweeper:
    """Plays the sweeps, the first from sample `start` of the snapshot on.

    Parameters
    ----------
    rate : int
        Samples per second.
    """

    def __init__(self, rate: int) -> None:
        self._sweep = sweep(rate)

    def sound(self, wanted: SweepSound, position: int, count: int) -> Samples | None:
        """Sweeps over `count` samples from `position` on; None when there are none."""
        gone = position - wanted.start
        whole = REPEATS * len(self._sweep)
        if not wanted.on or gone + count <= 0 or gone >= whole:
            return None
        places = np.arange(gone, gone + count)
        heard = (places >= 0) & (places < whole)
        gain = np.float32(gain_of(min(wanted.level_db, LOUDEST_DB)))
        sound = np.zeros(count, dtype=np.float32)
        sound[heard] = self._sweep[places[heard] % len(self._sweep)] * gain
        return sound
