"""Says when a held chord has changed: its partials lie elsewhere than they did."""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

LOWEST_HZ: Final = 80.0
HIGHEST_HZ: Final = 2500.0
BANDS_PER_OCTAVE: Final = 12
LIKENESS: Final = 0.8
"""Cosine of two profiles from which they are of one chord; a change of one tone of three brings less."""


class Profile:
    """Amounts of sound in bands of a semitone, compressed so that soft tones count.

    Parameters
    ----------
    length : int
        Samples of a stretch.
    rate : float
        Samples per second.
    """

    def __init__(self, length: int, rate: float) -> None:
        self._window: Signal = np.hanning(length + 1)[:-1]
        hz = np.fft.rfftfreq(length, 1 / rate)
        used = (hz >= LOWEST_HZ) & (hz <= HIGHEST_HZ)
        self._used = np.flatnonzero(used)
        band = np.rint(BANDS_PER_OCTAVE * np.log2(hz[used] / LOWEST_HZ)).astype(int)
        self._starts = np.searchsorted(band, np.unique(band))

    def of(self, sound: Signal) -> Signal:
        """Profile of a stretch, of length 1 unless there is silence; shape (bands,)."""
        power = np.abs(np.fft.rfft(sound * self._window))[self._used] ** 2
        bands = np.maximum.reduceat(power, self._starts) ** 0.25
        size = float(np.linalg.norm(bands))
        profile: Signal = bands / size if size > 0 else bands
        return profile


def alike(one: Signal, other: Signal) -> bool:
    """Whether two profiles, of any length, are of one chord."""
    size = float(np.linalg.norm(one) * np.linalg.norm(other))
    return size > 0 and float(one @ other) > LIKENESS * size
