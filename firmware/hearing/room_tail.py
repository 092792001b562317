"""Cleans a measured impulse response of noise, octave by octave, and reads the decay of the room from it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

CENTRES_HZ: Final = tuple(1000.0 * 2.0**k for k in range(-5, 5))
"""Octaves from 31.25 Hz to 16 kHz."""

SMOOTH_SECONDS: Final = 0.02
"""Least time over which the energy of an octave is averaged; low octaves need more."""

RINGS: Final = 32.0
MOST_RINGING_SECONDS: Final = 0.11
"""An octave may ring so many periods, or so long, before the direct sound; what is earlier is distortion or noise."""

LEAST_FIT_SECONDS: Final = 0.06
ABOVE_NOISE: Final = 4.0
"""The decay is read where the energy is this many times the noise."""


@dataclass(frozen=True, slots=True)
class Octave:
    """One octave of a response: what of it is kept, the expected squared error of its spectrum, and its decay."""

    hz: float
    kept: Signal
    error: float
    rt60: float | None


def octave_shape(hz: Signal, number: int) -> Signal:
    """Weight of an octave at some frequencies; over all octaves the weights add up to 1 everywhere."""
    place = np.log2(np.maximum(hz, 1.0) / CENTRES_HZ[number])
    place = np.where((number == 0) & (place < 0) | (number == len(CENTRES_HZ) - 1) & (place > 0), 0.0, place)
    return np.where(np.abs(place) < 1, 0.5 + 0.5 * np.cos(np.pi * np.clip(place, -1, 1)), 0.0)


def clean_octave(answer: Signal, noise: Signal, number: int, arrival: int, rate: int) -> Octave:
    """Keep of one octave what stands out of the noise.

    Parameters
    ----------
    answer : array of shape (n,)
        Impulse response with noise.
    noise : array of shape (n,)
        A sample of that noise alone, as half the difference of two measurements has it.
    number : int
        Which octave.
    arrival : int
        Where the direct sound is in `answer`.
    rate : int
        Samples per second.

    Notes
    -----
    Each sample is weighted by S / (S + N), the Wiener weight for its expected energy S in noise of variance N. S is the
    averaged energy less N, and beyond where that can be seen an exponential decay that is fitted to it. The expected
    error is then the sum of w^2 N and (1 - w)^2 S.
    """
    size = 2 ** math.ceil(math.log2(2 * len(answer)))
    hz: Signal = np.fft.rfftfreq(size, 1.0 / rate).astype(np.float64)
    shape = octave_shape(hz, number)
    heard = np.fft.irfft(np.fft.rfft(answer, size) * shape, size)[: len(answer)]
    other = np.fft.irfft(np.fft.rfft(noise, size) * shape, size)[: len(answer)]
    variance = float(np.mean(other**2)) + 1e-30
    span = round(max(SMOOTH_SECONDS, 2.0 / CENTRES_HZ[number]) * rate)
    energy = smooth(heard**2, span)
    line = decay_line(energy - variance, variance, arrival + span // 2, rate)
    expected = np.maximum(energy - variance, 0.0)
    time = np.arange(len(answer)) / rate
    if line is not None:
        start, slope, end = line
        late = np.arange(len(answer)) >= end
        expected = np.where(late, np.exp(start + slope * time), expected)
    else:
        expected = np.where(energy > 2 * variance, expected, 0.0)
    expected[:arrival] = np.where(energy[:arrival] > 2 * variance, expected[:arrival], 0.0)
    ringing = min(RINGS / CENTRES_HZ[number], MOST_RINGING_SECONDS)
    expected[: max(0, arrival - round(ringing * rate))] = 0.0
    weight = expected / (expected + variance)
    wrong = float(np.sum(weight**2) * variance + np.sum((1 - weight) ** 2 * expected))
    bandwidth = float(np.sum(shape**2)) * rate / size
    rt60 = None if line is None else -6.0 * math.log(10.0) / line[1]
    return Octave(CENTRES_HZ[number], heard * weight, wrong * rate / (2 * bandwidth), rt60)


def smooth(energy: Signal, span: int) -> Signal:
    """Running mean over `span` samples, centred."""
    sums = np.concatenate([[0.0], np.cumsum(energy)])
    places = np.arange(len(energy))
    low, high = np.maximum(places - span // 2, 0), np.minimum(places + span - span // 2, len(energy))
    return np.asarray((sums[high] - sums[low]) / (high - low))


def decay_line(excess: Signal, variance: float, begin: int, rate: int) -> tuple[float, float, int] | None:
    """Fit an exponential decay to energy: natural log at time 0, slope per second, and where the fit ended.

    None where too little of it stands out of the noise, or where it does not fall.
    """
    under = np.flatnonzero(excess[begin:] < ABOVE_NOISE * variance)
    end = begin + int(under[0]) if len(under) else len(excess)
    if end - begin < LEAST_FIT_SECONDS * rate:
        return None
    time = np.arange(begin, end) / rate
    slope, start = np.polyfit(time, np.log(np.maximum(excess[begin:end], 1e-30)), 1)
    return (float(start), float(slope), end) if slope < 0 else None
