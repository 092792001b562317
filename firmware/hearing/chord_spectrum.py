"""The spectrum of a held chord: where a partial's energy lies, how far it stands over its surroundings."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal
from firmware.units import cents_of, ratio_of

PADDING: Final = 3
"""The stretch is padded to at least this many times its length, so that sums over bins are smooth."""

SEARCHED: Final = 40.0
"""Cents around its nominal place in which a partial is looked for."""

GATHERED: Final = 20.0
"""Cents around its centre over which a partial's energy is gathered: three players within 16 cents fit in."""

LOBE: Final = 2.2
"""The same in widths of a bin of the stretch's own length: Hann's main lobe is 2 on each side."""

TOO_CLOSE: Final = 60.0
"""Cents: each of two partials may be spread by its players over a good part of this."""

ROUNDS: Final = 3
AROUND: Final = ratio_of(300.0)
"""The floor is taken from a minor third below to a minor third above."""

FLOORS_FROM: Final = 40.0
FLOOR_BINS: Final = 300
"""About so many bins are looked at for one floor."""

FLOOR_PART: Final = 0.25
"""A quarter of the bins lie under this quantile of a noise's exponentially distributed power."""


LEAST_OVER_OWN: Final = 10 ** (-20 / 10)
"""A partial on a line of our own must be stronger than what was removed there less 20 dB, or it may be what is left."""

MATTERS: Final = 10 ** (-12 / 10)

Removed = Callable[[Signal], Signal]
"""Mean square of own sound that was taken out close to each frequency in Hz, shape like the argument."""


def nothing_removed(hz: Signal) -> Signal:
    """What was removed when the box was silent."""
    return np.zeros(len(hz))


@dataclass(frozen=True, slots=True)
class Line:
    """One partial: the centre of its energy in Hz, its peak over the floor, and its mean square."""

    hz: float
    over_floor: float
    power: float


class ChordSpectrum:
    """Hann power spectrum of a stretch of sound.

    Parameters
    ----------
    sound : Signal
        Shape (n,).
    rate : float
        Samples per second.
    removed : function
        From frequencies in Hz, shape (n,), to the mean square of own sound that was taken out close to each.
    """

    def __init__(self, sound: Signal, rate: float, removed: Removed = nothing_removed) -> None:
        length = len(sound)
        padded = 2 ** math.ceil(math.log2(PADDING * length))
        window = np.hanning(length + 1)[:-1]
        bins = np.fft.rfft(sound * window, padded)
        self.power: Signal = (bins.real**2 + bins.imag**2) / float(window @ window)
        self.bin_hz = rate / padded
        self.seconds = length / rate
        self.top_hz = rate / 2
        self._rate = rate
        self._removed = removed
        self._places: Signal = np.arange(len(self.power)) * self.bin_hz
        steps = math.ceil(math.log2(self.top_hz / FLOORS_FROM) * 4)
        self._floor_places: Signal = FLOORS_FROM * 2.0 ** (np.arange(steps + 1) / 4)
        self._floors: Signal = np.array([self._floor_at(float(hz)) for hz in self._floor_places])

    def bins(self, low_hz: float, high_hz: float) -> slice:
        """The bins from one frequency to another."""
        low = max(0, math.ceil(low_hz / self.bin_hz))
        return slice(low, max(low, min(len(self.power), int(high_hz / self.bin_hz) + 1)))

    def floor(self, hz: float) -> float:
        """Power per bin of the noise around a frequency, drawn between places a minor third apart."""
        return float(np.interp(hz, self._floor_places, self._floors))

    def _floor_at(self, hz: float) -> float:
        """The noise that has a quarter of its exponentially distributed bins where the bins here have theirs."""
        around = self.power[self.bins(hz / AROUND, hz * AROUND)]
        around = around[:: max(1, len(around) // FLOOR_BINS)]
        return float(np.quantile(around, FLOOR_PART)) / -math.log(1 - FLOOR_PART) if len(around) else 0.0

    def removed_at(self, hz: float) -> float:
        """Mean square of own sound that was taken out close to a frequency."""
        return float(self._removed(np.array([hz]))[0])

    def covered(self, hz: float, loudest: float) -> bool:
        """Whether so much of our own sound was taken out here that a player who matters would not be seen.

        One matters who is less than 12 dB under a partial of mean square `loudest`.
        """
        hidden = LEAST_OVER_OWN * self.removed_at(hz)
        return hidden > MATTERS * loudest and self.line(hz) is None

    def line(self, hz: float) -> Line | None:
        """Find the partial that should be at `hz`.

        Parameters
        ----------
        hz : float
            Nominal frequency in Hz.

        Returns
        -------
        Line or None
            None if there is nothing over the floor, if the energy lies further than `SEARCHED` cents away, or if it may
        be what is left of our own sound.

        Notes
        -----
        The centre of several players on one partial is the centroid of the amplitude spectrum over their lobes. The
        amplitude is taken rather than the power because it leans less towards the loudest: what is wanted is the mean
        of the players. The place is moved to the centroid and gathered anew, so that the edges do not pull it back.
        """
        floor = self.floor(hz)
        if floor <= 0:
            return None
        centre, width = hz, SEARCHED
        for _ in range(ROUNDS):
            half = max((ratio_of(width) - 1) * hz, LOBE / self.seconds)
            bins = self.bins(centre - half, centre + half)
            clear = np.maximum(self.power[bins] - 2 * floor, 0.0)
            size = np.sqrt(clear)
            total = float(size.sum())
            if total <= 0:
                return None
            centre = float(size @ self._places[bins]) / total
            width = GATHERED
            if abs(cents_of(centre / hz)) > SEARCHED:
                return None
        power = 2 * float(clear.sum()) * self.bin_hz / self._rate
        if power < LEAST_OVER_OWN * self.removed_at(hz):
            return None
        return Line(centre, float(self.power[bins].max()) / floor, power)


def same_place(hz: float, other_hz: float, seconds: float) -> bool:
    """Whether two partials are too close to be told apart, by ear or in so many seconds."""
    return abs(hz - other_hz) < max((ratio_of(TOO_CLOSE) - 1) * hz, 4 / seconds)


def partials_apart(tone_hz: float, others: Signal, seconds: float, top_hz: float, most: int) -> list[tuple[int, float]]:
    """Partials of one tone on which no partial of another lies.

    Parameters
    ----------
    tone_hz : float
        Fundamental of the tone that is asked for, in Hz.
    others : Signal
        Those of the others, shape (tones,); of octaves of one degree only the lowest is needed.
    seconds : float
        Length of the stretch.
    top_hz : float
        No partial above this is used.
    most : int
        Partials at most.

    Returns
    -------
    list of (int, float)
        Number of each partial that is free, and its nominal frequency in Hz.
    """
    free: list[tuple[int, float]] = []
    for number in range(1, min(most, int(top_hz / tone_hz)) + 1):
        hz = number * tone_hz
        nearest = np.maximum(np.rint(hz / others), 1.0) * others
        if not any(same_place(hz, float(other), seconds) for other in nearest):
            free.append((number, hz))
    return free
