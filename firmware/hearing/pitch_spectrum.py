"""Spectrum of a stretch of whitened sound, and the few fundamentals that may have made it."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

LOWEST_HZ: Final = 37.0
HIGHEST_HZ: Final = 4300.0
TOP_HZ: Final = 5000.0
"""No partial above this is used: the decimator begins to fall there."""

MOST_PARTIALS: Final = 32
SPECTRUM: Final = 4096
PEAKS: Final = 7
DIVISORS: Final = np.arange(1, 9)
TRIED: Final = 3
PARTIAL_COST: Final = 0.0008
"""Share of the energy that one more partial must bring to be believed (model-order penalty)."""

REPEATS_TOP_HZ: Final = 200.0
"""Above this a window holds so many periods that the peaks of the spectrum stand apart."""

NEARLY: Final = 0.85
"""Of the peaks of the autocorrelation, those of multiples of a period are about as high: the first such counts."""


NEAR: Final = 0.015
"""Peaks off a multiple of a candidate by less than this share belong to it."""


@lru_cache(maxsize=4)
def _hann(length: int) -> Signal:
    window: Signal = np.hanning(length + 1)[:-1]
    window.flags.writeable = False
    return window


@lru_cache(maxsize=4)
def _hann_alike(length: int) -> Signal:
    """Autocorrelation of the window by itself, as it comes out of a padded spectrum."""
    bins = np.fft.rfft(_hann(length), SPECTRUM)
    alike: Signal = np.maximum(np.fft.irfft(bins.real**2 + bins.imag**2), 1e-9)
    alike.flags.writeable = False
    return alike


def partials_of(hz: float, top_hz: float = TOP_HZ) -> int:
    """How many partials of a tone are used."""
    return max(1, min(MOST_PARTIALS, int(top_hz / hz)))


class Spectrum:
    """Hann power spectrum of a window, padded to `SPECTRUM` bins."""

    def __init__(self, sound: Signal, rate: float) -> None:
        length = len(sound)
        bins = np.fft.rfft(sound * _hann(length), SPECTRUM)
        self.length = length
        self.rate = rate
        self.power: Signal = bins.real**2 + bins.imag**2
        self.bin_hz = rate / SPECTRUM
        self.lobe = 2 * SPECTRUM // length
        self.sums = np.concatenate([[0.0], np.cumsum(self.power)])

    def peaks(self) -> Signal:
        """Frequencies in Hz of the strongest local maxima, strongest first, by parabola through three log values."""
        power = self.power
        low, high = int(LOWEST_HZ / self.bin_hz), int(TOP_HZ / self.bin_hz)
        middle = power[low:high]
        rising = (middle >= power[low - 1 : high - 1]) & (middle > power[low + 1 : high + 1])
        places = np.flatnonzero(rising) + low
        places = places[np.argsort(power[places])[::-1][:PEAKS]]
        places = places[power[places] > 1e-4 * power[places].max(initial=0.0)]
        before, here, after = (np.log(power[places + shift] + 1e-300) for shift in (-1, 0, 1))
        bend = before - 2 * here + after
        shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, 1.0), 0.0)
        hz: Signal = np.asarray((places + shift) * self.bin_hz, dtype=np.float64)
        return hz

    def repeats(self) -> float | None:
        """Hz at which the sound repeats itself by its autocorrelation, for few periods, in which partials merge.

        The first peak that is nearly as high as the highest, each over that of the window (McLeod & Wyvill 2005).
        """
        shortest, longest = int(self.rate / REPEATS_TOP_HZ), int(self.rate / LOWEST_HZ)
        alike = np.fft.irfft(self.power)[: longest + 2] / _hann_alike(self.length)[: longest + 2]
        places = np.arange(shortest, longest + 1)
        tops = places[(alike[places] >= alike[places - 1]) & (alike[places] > alike[places + 1])]
        if not len(tops) or alike[tops].max() <= 0:
            return None
        place = tops[alike[tops] >= NEARLY * alike[tops].max()][0]
        before, here, after = alike[place - 1 : place + 2]
        return self.rate / float(place + 0.5 * (before - after) / min(before - 2 * here + after, -1e-300))

    def band_share(self, top_hz: float) -> float:
        """Share of the energy under `top_hz`."""
        end = min(len(self.power), int(top_hz / self.bin_hz) + 2)
        return float(self.sums[end] / max(self.sums[-1], 1e-300))

    def comb_scores(self, candidates: Signal) -> Signal:
        """Energy on each candidate's partials less the cost of each, as a share of all."""
        number = np.arange(1, MOST_PARTIALS + 1)
        hz = candidates[:, None] * number
        bins = np.minimum(np.rint(hz / self.bin_hz).astype(int), len(self.power) - 1)
        width = np.minimum(self.lobe, (candidates / self.bin_hz / 2).astype(int))[:, None]
        low = np.maximum(bins - width, 0)
        high = np.minimum(bins + width + 1, len(self.power))
        energy = (self.sums[high] - self.sums[low]) * (hz < TOP_HZ)
        noise = np.median(self.power) * 1.4 * (high - low)
        cost = noise + 4 * PARTIAL_COST * self.sums[-1]
        scores: Signal = ((energy - cost) * (hz < TOP_HZ)).sum(axis=1)
        return scores


def _through(peaks: Signal, power: Signal, bin_hz: float, hz: float) -> float:
    """The fundamental whose partials go best through all the peaks near them, by power-weighted least squares."""
    number = np.rint(peaks / hz)
    near = (number >= 1) & (np.abs(peaks / np.maximum(number, 1) / hz - 1) < NEAR)
    weight = power[np.rint(peaks / bin_hz).astype(int)] * near * number
    return float(weight @ peaks / (weight @ number)) if near.any() else hz


def candidates_of(spectrum: Spectrum) -> Signal:
    """The few fundamentals worth a fit, best first."""
    peaks = spectrum.peaks()
    if not len(peaks):
        return peaks
    grid = (peaks[:, None] / DIVISORS).ravel()
    grid = grid[(grid > LOWEST_HZ) & (grid < HIGHEST_HZ)]
    chosen: list[float] = []
    for place in np.argsort(spectrum.comb_scores(grid))[::-1]:
        hz = float(grid[place])
        if all(abs(math.log2(hz / other)) > 0.02 for other in chosen):
            chosen.append(_through(peaks, spectrum.power, spectrum.bin_hz, hz))
        if len(chosen) == TRIED:
            break
    repeat = spectrum.repeats()
    if repeat is not None and all(abs(math.log2(repeat / other)) > 0.02 for other in chosen):
        chosen.append(repeat)
    return np.array(chosen)
