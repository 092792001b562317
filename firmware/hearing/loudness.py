"""Loudness of a whole recording by ITU-R BS.1770-4: K weighting, blocks of 400 ms, absolute and relative gate."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from firmware.hearing.filters import numbers
from firmware.hearing.weighting import Recursive, Section
from firmware.units import RATE, Samples

K_WEIGHTING: Final[tuple[Section, ...]] = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585),
    (1.0, -2.0, 1.0, -1.99004745483398, 0.99007225036621),
)
"""Sections at 48 kHz, as tables 1 and 2 of ITU-R BS.1770-4 print them: a head's shelf, and a high-pass."""

OFFSET: Final = -0.691
"""What makes a full-scale sine of 997 Hz in one channel -3.01 LUFS."""

ABSOLUTE_LUFS: Final = -70.0
"""Blocks below this never count."""

RELATIVE_LU: Final = -10.0
"""Blocks so far below the mean of the others do not count either."""

PART: Final = RATE // 10
"""Blocks of four parts begin with every part: 400 ms that overlap by three quarters."""

PARTS: Final = 4

STEP_LU: Final = 0.01
HIGHEST_LUFS: Final = 20.0
CLASSES: Final = round((HIGHEST_LUFS - ABSOLUTE_LUFS) / STEP_LU)
"""Blocks are counted in classes of a hundredth of a unit, so that hours need no more memory than a minute."""


def lufs_of(power: float) -> float:
    """Loudness of a mean square after the weighting; minus infinity for nothing at all."""
    return OFFSET + 10.0 * math.log10(power) if power > 0.0 else -math.inf


class Loudness:
    """Measures one stream of mono sound at 48 kHz.

    Notes
    -----
    Everything is as the recommendation has it but for one thing: blocks within the class of a hundredth of a loudness
    unit into which the relative gate falls all count.
    """

    def __init__(self) -> None:
        self._filter = Recursive(K_WEIGHTING)
        self._energy = 0.0
        self._count = 0
        self._parts: list[float] = []
        self._sums = np.zeros(CLASSES)
        self._counts = np.zeros(CLASSES, dtype=np.int64)
        self.peak = 0.0
        """Largest size of a sample so far."""

    def process(self, block: Samples) -> None:
        """Take in a block, shape (n,), any n; what is not a number counts as 0."""
        clean = numbers(block)
        self.peak = max(self.peak, float(np.abs(clean).max(initial=0.0)))
        power = self._filter.process(clean) ** 2
        start = 0
        while start < len(power):
            part = power[start : start + PART - self._count]
            start += len(part)
            self._energy += float(part.sum())
            self._count += len(part)
            if self._count == PART:
                self._close_part()

    @property
    def integrated(self) -> float | None:
        """Loudness of all so far in LUFS; None if no block is above the absolute gate."""
        heard = int(self._counts.sum())
        if heard == 0:
            return None
        gate = lufs_of(float(self._sums.sum()) / heard) + RELATIVE_LU
        first = min(max(math.floor((gate - ABSOLUTE_LUFS) / STEP_LU), 0), CLASSES - 1)
        return lufs_of(float(self._sums[first:].sum()) / int(self._counts[first:].sum()))

    def _close_part(self) -> None:
        self._parts = [*self._parts, self._energy][-PARTS:]
        self._energy, self._count = 0.0, 0
        if len(self._parts) < PARTS:
            return
        power = sum(self._parts) / (PARTS * PART)
        lufs = lufs_of(power)
        if lufs >= ABSOLUTE_LUFS:
            place = min(int((lufs - ABSOLUTE_LUFS) / STEP_LU), CLASSES - 1)
            self._sums[place] += power
            self._counts[place] += 1
