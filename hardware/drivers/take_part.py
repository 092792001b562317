"""What a take is, and which part of it was opened last and how that is known again."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.units import Samples
from hardware.drivers.flac_file import to_24_bit

PRINT: Final = 1024
"""Samples at the start of a part by which it is known again on a stick that comes back."""


@dataclass(frozen=True, slots=True)
class Order:
    """What take to write, and where: as in the command OpenTake."""

    path: str
    number: int
    first: int = 0
    channels: int = 1
    part_samples: int = 0


@dataclass(frozen=True, slots=True)
class Part:
    """The part that was opened last: its number (0 for none), its first sample in the take, and how to know it."""

    number: int = 0
    start: int = 0
    mark: int = 0


def mark_of(samples: Samples) -> int:
    """Check value of the first samples of a part, of the microphone alone."""
    mono = samples[:PRINT] if samples.ndim == 1 else samples[:PRINT, 0]
    return zlib.crc32(to_24_bit(np.ascontiguousarray(mono)).astype("<i4").tobytes())
