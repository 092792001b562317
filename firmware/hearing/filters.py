"""Streaming FIR filters: a decimator to the ear's analysis rate and a whitening filter for room noise."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from firmware.units import Samples

Signal = NDArray[np.float64]
"""Sound inside the ear, shape (n,)."""


def numbers(block: Samples | Signal) -> Signal:
    """The block in double precision, with 0 for whatever is not a number."""
    samples: Signal = np.asarray(block, dtype=np.float64)
    # The sum is finite unless something in it is not: one look is enough for nearly every block.
    if np.isfinite(samples.sum()):
        return samples
    clean: Signal = np.nan_to_num(samples, nan=0.0, posinf=0.0, neginf=0.0)
    return clean


@lru_cache(maxsize=8)
def lowpass(factor: int, taps_per_phase: int = 24) -> Signal:
    """Kaiser-windowed sinc that passes what survives decimation.

    Parameters
    ----------
    factor : int
        Decimation factor.
    taps_per_phase : int
        Filter length divided by `factor`; 24 puts aliases 80 dB under up to 0.43 of the new rate.

    Returns
    -------
    Signal
        Symmetric taps, shape (factor * taps_per_phase + 1,), gain 1 at 0 Hz.

    Notes
    -----
    Window method, Oppenheim & Schafer, *Discrete-Time Signal Processing*, 7.5; beta 7.86 is 80 dB.
    """
    length = factor * taps_per_phase + 1
    offset = np.arange(length) - (length - 1) / 2
    cutoff = 0.5 / factor * 0.93
    taps = np.sinc(2 * cutoff * offset) * np.kaiser(length, 7.86)
    result: Signal = taps / taps.sum()
    result.flags.writeable = False
    return result


@lru_cache(maxsize=4)
def whitener(length: int = 65) -> Signal:
    """Taps of `(1 - z^-1)^0.5`, which turns pink noise white; the rest of its sum is taken off so that DC is blocked.

    Notes
    -----
    Binomial series: h[0] = 1, h[n] = h[n-1] (n - 1.5) / n.
    """
    taps = np.ones(length)
    for n in range(1, length):
        taps[n] = taps[n - 1] * (n - 1.5) / n
    taps -= taps.sum() * np.hanning(length + 2)[1:-1] / np.hanning(length + 2).sum()
    taps.flags.writeable = False
    return taps


class Decimator:
    """Lowers the rate of a stream of blocks of any length.

    Parameters
    ----------
    factor : int
        One sample in `factor` is kept.

    Notes
    -----
    Only the kept samples are computed (the polyphase identity): the history is read through a strided view.
    Output sample `i` stands for input sample `i * factor - delay`.
    """

    def __init__(self, factor: int) -> None:
        self.factor = factor
        self._taps = lowpass(factor)
        self.delay = (len(self._taps) - 1) // 2
        self._history: Signal = np.zeros(len(self._taps) - 1)

    def process(self, block: Samples | Signal) -> Signal:
        """Filter a block, shape (n,), and keep every `factor`-th sample, counted over the whole stream."""
        stretch = np.concatenate([self._history, block])
        length = len(self._taps)
        count = (len(stretch) - length) // self.factor + 1
        if count <= 0:
            self._history = stretch
            return np.zeros(0)
        step = stretch.strides[0]
        frames = np.lib.stride_tricks.as_strided(stretch, (count, length), (step * self.factor, step), writeable=False)
        out: Signal = frames @ self._taps
        self._history = stretch[count * self.factor :].copy()
        return out


class Fir:
    """Filters a stream of blocks with fixed taps."""

    def __init__(self, taps: Signal) -> None:
        self._taps = taps
        self._history: Signal = np.zeros(len(taps) - 1)

    def process(self, block: Signal) -> Signal:
        """Filter a block, shape (n,), to the same length."""
        if not len(block):
            return block
        stretch = np.concatenate([self._history, block])
        self._history = stretch[len(block) :].copy()
        out: Signal = np.convolve(stretch, self._taps, "valid")
        return out
