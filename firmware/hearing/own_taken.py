"""What was taken out of the microphone in the ear's last window: how much of it lay close to a frequency."""

from __future__ import annotations

from collections import deque
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal

HOPS: Final = 4
"""Hops that are looked at together; the ear's longest window has hardly fewer samples."""

SPECTRUM: Final = 4096


class Taken:
    """Keeps what was taken out in the last hops.

    Parameters
    ----------
    rate : float
        Samples per second.
    hop : int
        Samples in a hop.
    """

    def __init__(self, rate: float, hop: int) -> None:
        self._rate = rate
        self._window: Signal = np.hanning(HOPS * hop + 1)[:-1]
        self._hops: deque[Signal] = deque([np.zeros(hop)] * HOPS, maxlen=HOPS)
        self._sums: Signal | None = None

    def add(self, taken: Signal) -> None:
        """Add a hop, shape (hop,)."""
        self._hops.append(taken)
        self._sums = None

    @property
    def power(self) -> float:
        """Mean square over the window."""
        return float(np.mean([hop @ hop for hop in self._hops])) / len(self._hops[0])

    def near(self, hz: NDArray[np.float64], width: float) -> NDArray[np.float64]:
        """Mean square within `width` Hz of each frequency, shape like `hz`; the window's lobe is counted in."""
        if self._sums is None:
            power = np.abs(np.fft.rfft(np.concatenate(self._hops) * self._window, SPECTRUM)) ** 2
            # Parseval: the sum over all bins, both sides, is SPECTRUM times the energy under the window.
            power *= 2.0 / (SPECTRUM * float(self._window @ self._window))
            self._sums = np.concatenate([[0.0], np.cumsum(power)])
        bin_hz = self._rate / SPECTRUM
        reach = width + 2.0 * self._rate / len(self._window)
        last = len(self._sums) - 1
        low = np.clip(np.floor((hz - reach) / bin_hz).astype(int), 0, last)
        high = np.clip(np.ceil((hz + reach) / bin_hz).astype(int) + 1, 0, last)
        return np.asarray(self._sums[high] - self._sums[low])


def gain_at(hz: NDArray[np.float64], gains: Signal, rate: float) -> NDArray[np.float64]:
    """Power gain at some frequencies of a filter whose gains are given from 0 to half the rate, shape like `hz`."""
    return np.asarray(np.interp(hz, np.linspace(0, rate / 2, len(gains)), gains) ** 2)
