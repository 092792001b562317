"""What is replayed, kept for a few seconds, so that the listener can have it beside the microphone."""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.units import RATE, Samples

SECONDS: Final = 8
"""Longer than the tape to the listener, which is never later than that."""


class Tap:
    """The replay's share of the loudspeaker. One thread writes, another reads; each changes only its own counter.

    Parameters
    ----------
    capacity : int
        Samples kept; the memory for them is taken once.
    """

    def __init__(self, capacity: int = SECONDS * RATE) -> None:
        self._kept = np.zeros(capacity, dtype=np.float32)
        self._written = 0
        self._read = 0

    def write(self, sound: Samples | None, count: int) -> None:
        """Add the next `count` samples, at most the capacity; None is silence."""
        begin = self._written % len(self._kept)
        head = min(count, len(self._kept) - begin)
        self._kept[begin : begin + head] = 0.0 if sound is None else sound[:head]
        self._kept[: count - head] = 0.0 if sound is None else sound[head:]
        self._written += count

    def read(self, count: int) -> Samples:
        """The next `count` samples, shape (count,); silence for those that are gone or still to come."""
        result = np.zeros(count, dtype=np.float32)
        first, self._read = self._read, self._read + count
        here = max(first, self._written - len(self._kept))
        end = min(first + count, self._written)
        if here < end:
            result[here - first : end - first] = self._kept[np.arange(here, end) % len(self._kept)]
        return result
