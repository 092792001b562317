"""Finds the hum of the mains: narrow, steady lines at multiples of 50 or 60 Hz that the box did not play."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Decimator, Signal, numbers
from firmware.units import RATE, Samples

MAINS_HZ: Final = (50.0, 60.0)
MULTIPLES: Final = 8
DRIFT: Final = 0.004
"""Mains frequency strays by so much at most: 0.2 Hz of 50, which is what grids allow (common practice)."""

STANDS_OUT: Final = 10 ** (12 / 10)
"""A line must have this many times the power of the noise beside it."""

LEAST_LINES: Final = 2
QUIETEST_DB: Final = -84.0
"""Hum under this level, dB re full scale, does no harm."""

FACTOR: Final = 32
WINDOW_SECONDS: Final = 4.0
STEADY_DB: Final = 3.0
"""From one window to the next hum changes by less; a player's note does not hold so still."""

OWN_SHARE: Final = 1e-5
"""Where own sound has this share of its greatest power, a line may be its own."""


@dataclass(frozen=True, slots=True)
class Hum:
    """Hum: nominal mains frequency, what it is in truth, and level (RMS of all lines, dB re full scale)."""

    mains_hz: float
    hz: float
    level_db: float


def find_hum(sound: Signal, rate: float, own: Signal | None = None) -> Hum | None:
    """Look for hum in a stretch.

    Parameters
    ----------
    sound : array of shape (n,)
        A second or more.
    rate : float
        Samples per second, at least 1200.
    own : array of shape (n,) or None
        What the box played; where that has power, no line counts.

    Returns
    -------
    Hum or None
    """
    window = np.hanning(len(sound))
    size = 4 * 2 ** math.ceil(math.log2(len(sound)))
    power = np.abs(np.fft.rfft(sound * window, size)) ** 2 * (2.0 / float(np.sum(window)) ** 2)
    free = np.ones(len(power), dtype=bool)
    if own is not None:
        played = np.abs(np.fft.rfft(own * window, size)) ** 2
        if float(played.max()) > 1e-9:
            free = played < OWN_SHARE * float(played.max())
    found = [_on_mains(power, free, mains, rate, size, len(sound) / rate) for mains in MAINS_HZ]
    humming = [hum for hum in found if hum is not None]
    return max(humming, key=lambda hum: hum.level_db) if humming else None


def _on_mains(
    power: Signal, free: NDArray[np.bool_], mains: float, rate: float, size: int, seconds: float
) -> Hum | None:
    bin_hz = rate / size
    best: tuple[float, float, int] = (0.0, mains, 0)
    steps = max(1, math.ceil(DRIFT * mains * MULTIPLES / bin_hz))
    multiples = np.arange(1, MULTIPLES + 1)
    multiples = multiples[multiples * mains * (1 + DRIFT) + 10.0 / seconds < 0.43 * rate]
    floors = np.array([_floor(power, k * mains, bin_hz, seconds) for k in multiples])
    for drift in np.linspace(-DRIFT, DRIFT, 2 * steps + 1):
        bins = np.round(multiples * mains * (1 + drift) / bin_hz).astype(np.int64)
        clear = (power[bins] > STANDS_OUT * floors) & free[bins] & _peaks(power, bins)
        total = float(power[bins][clear].sum())
        if total > best[0]:
            best = (total, mains * (1 + drift), int(clear.sum()))
    total, hz, lines = best
    level = 10.0 * math.log10(total) if total > 0 else -math.inf
    return Hum(mains, float(hz), level) if lines >= LEAST_LINES and level >= QUIETEST_DB else None


def _peaks(power: Signal, bins: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether the bins lie on a maximum, or next to one."""
    around = np.stack([power[bins + step] for step in (-3, -2, -1, 0, 1, 2, 3)])
    return np.asarray(power[bins] >= 0.5 * around.max(axis=0))


def _floor(power: Signal, hz: float, bin_hz: float, seconds: float) -> float:
    """Noise beside a place: the median between 3 and 9 widths of the window's main lobe to both sides."""
    near, far = round(3.0 / seconds / bin_hz), round(9.0 / seconds / bin_hz)
    middle = round(hz / bin_hz)
    beside = np.concatenate([power[max(0, middle - far) : middle - near], power[middle + near : middle + far]])
    return float(np.median(beside)) if len(beside) else math.inf


class HumWatch:
    """Watches a stream for hum; it must be there, and the same, in two windows of four seconds in a row.

    Parameters
    ----------
    rate : int
        Samples per second.
    """

    def __init__(self, rate: int = RATE) -> None:
        self._rate = rate / FACTOR
        self._slow = (Decimator(FACTOR), Decimator(FACTOR))
        self._span = round(WINDOW_SECONDS * self._rate)
        self._waiting: NDArray[np.float64] = np.zeros((2, 0))
        self._last: Hum | None = None
        self.hum: Hum | None = None

    def process(self, mic: Samples | Signal, own: Samples) -> None:
        """Take in a block of the microphone and what the box played, both shape (n,); look at `hum` afterwards."""
        slow = np.stack([one.process(numbers(b)) for one, b in zip(self._slow, (mic, own), strict=True)])
        self._waiting = np.concatenate([self._waiting, slow], axis=1)
        while self._waiting.shape[1] >= self._span:
            sound, played = self._waiting[:, : self._span]
            self._waiting = self._waiting[:, self._span :]
            now = find_hum(sound, self._rate, played)
            self.hum = now if _same(now, self._last) else None
            self._last = now


def _same(one: Hum | None, other: Hum | None) -> bool:
    if one is None or other is None:
        return False
    return one.mains_hz == other.mains_hz and abs(one.level_db - other.level_db) < STEADY_DB
