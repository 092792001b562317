"""Units and array types that every part shares."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Final

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
"""Mono sound, shape (n,), full scale is -1 to 1."""

RATE: Final = 48_000
"""Samples per second of the box's one clock."""

BLOCK: Final = 512
"""Samples the sound card asks for at a time, unless it insists on another number."""

CENTS_PER_OCTAVE: Final = 1200


def cents_of(ratio: float | Fraction) -> float:
    """Size of a frequency ratio in cents (1200 times its logarithm to base 2).

    Raises
    ------
    ValueError
        If the ratio is not above zero.
    """
    if ratio <= 0:
        message = f"a ratio must be above zero, not {ratio}"
        raise ValueError(message)
    return CENTS_PER_OCTAVE * math.log2(ratio)


def ratio_of(cents: float) -> float:
    """Frequency ratio of an interval given in cents."""
    return float(2.0 ** (cents / CENTS_PER_OCTAVE))


def gain_of(level_db: float) -> float:
    """Amplitude factor of a level in decibels."""
    return float(10.0 ** (level_db / 20.0))


def db_of(gain: float) -> float:
    """Level in decibels of an amplitude factor; minus infinity for nothing at all."""
    return 20.0 * math.log10(gain) if gain > 0 else -math.inf


def seconds_of(samples: int, rate: int = RATE) -> float:
    """Seconds that a number of samples lasts."""
    return samples / rate


def samples_of(seconds: float, rate: int = RATE) -> int:
    """Whole samples nearest to a time in seconds."""
    return round(seconds * rate)
