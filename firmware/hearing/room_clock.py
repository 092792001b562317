"""How much two answers to the same sweep are shifted against each other, and putting a recording on another clock."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

GREATEST_PPM: Final = 1000.0
"""Clocks of sound cards differ by some ten, at worst some hundred parts in a million."""

TAPS: Final = 32
BETA: Final = 9.0
"""Length and Kaiser shape of the interpolator: errors stay 80 dB down up to 0.4 of the rate."""

CHUNK: Final = 32


def shift_between(first: Signal, second: Signal, most: float) -> tuple[float, float]:
    """Samples by which `second` comes later than `first`, and the standard error of that.

    Parameters
    ----------
    first, second : arrays of shape (n,)
        Two measurements of the same impulse response.
    most : float
        Greatest shift looked for, either way, in samples.

    Notes
    -----
    The peak of the cross-correlation gives the shift to a fraction of a sample. The phases of the cross-spectrum, which
    rise in proportion to frequency, then give the rest by weighted least squares (Knapp & Carter 1976, "The generalized
    correlation method for estimation of time delay", IEEE TASSP 24; here with the weight of the squared spectrum, which
    suits white noise). The error follows from the scatter of those phases.
    """
    size = 2 ** math.ceil(math.log2(2 * len(first)))
    cross = np.fft.rfft(second, size) * np.conj(np.fft.rfft(first, size))
    around = np.fft.irfft(cross, size)
    reach = int(np.ceil(most)) + 1
    lags = np.arange(-reach, reach + 1)
    shift = float(lags[np.argmax(around[lags])])
    angle = 2 * np.pi * np.arange(len(cross)) / size
    weight = np.abs(cross)
    error = 0.0
    for _ in range(4):
        phase = np.angle(cross * np.exp(1j * angle * shift))
        # Near the upper end phases may still turn right round while the shift is a quarter of a sample off.
        sure = np.where(np.abs(phase) < 2.0, weight, 0.0)
        moment = float(np.sum(sure * angle**2))
        if moment <= 0:
            break
        shift -= float(np.sum(sure * angle * phase)) / moment
        left = np.angle(cross * np.exp(1j * angle * shift))
        # Zero-padding makes neighbouring bins depend on each other: only one in size / n counts.
        dependent = size / len(first)
        error = float(np.sqrt(dependent * np.sum((sure * angle * left) ** 2))) / moment
    return shift, error


def on_other_clock(sound: Signal, ppm: float) -> Signal:
    """A recording as a clock that runs `ppm` parts in a million slower would have taken it, the first sample in common.

    Output sample n is the band-limited sound at n * (1 + ppm / 1e6); Kaiser-windowed sinc of 32 taps, worked out at the
    ends of every 32 samples and interpolated in between, where it hardly changes.
    """
    half, drift = TAPS // 2, ppm * 1e-6
    chunks = -(-len(sound) // CHUNK)
    place = np.arange(chunks) * CHUNK * (1.0 + drift)
    whole = np.floor(place).astype(np.int64)
    behind = max(0, int(whole[-1]) + CHUNK + TAPS - len(sound)) if chunks else 0
    padded = np.concatenate([np.zeros(half - 1), sound, np.zeros(behind)])
    stretches = np.lib.stride_tricks.sliding_window_view(padded, CHUNK + TAPS - 1)[whole]
    frames = np.lib.stride_tricks.sliding_window_view(stretches, TAPS, axis=1)
    fraction: Signal = np.asarray(place - whole, dtype=np.float64)
    ends: Signal = fraction + CHUNK * drift
    # Each frame times its own taps: a stack of matrices times a stack of vectors.
    start = np.matmul(frames, _kernels(fraction)[:, :, None])[:, :, 0]
    end = np.matmul(frames, _kernels(ends)[:, :, None])[:, :, 0]
    share = np.arange(CHUNK) / CHUNK
    return np.asarray((start + share * (end - start)).reshape(-1)[: len(sound)])


def _kernels(fraction: Signal) -> Signal:
    """Taps that read a sound at a fraction of a sample after each of some places, shape (len(fraction), TAPS)."""
    half = TAPS // 2
    off = np.arange(-half + 1, half + 1)[None, :] - fraction[:, None]
    window = np.i0(BETA * np.sqrt(np.maximum(0.0, 1.0 - (off / half) ** 2))) / np.i0(BETA)
    return np.asarray(np.sinc(off) * window)
