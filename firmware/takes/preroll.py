"""The microphone's last seconds, always in memory, so that a take can begin before the key was pressed."""

from __future__ import annotations

import numpy as np

from firmware.units import Samples


class Ring:
    """The newest samples of an endless stream, addressed by their place in the stream.

    Parameters
    ----------
    capacity : int
        Samples kept; the memory for them is taken once, here.
    """

    def __init__(self, capacity: int) -> None:
        if capacity < 1:
            message = f"a ring holds at least one sample, not {capacity}"
            raise ValueError(message)
        self._kept = np.zeros(capacity, dtype=np.float32)
        self._end = 0

    @property
    def capacity(self) -> int:
        """Samples that it can hold."""
        return len(self._kept)

    @property
    def end(self) -> int:
        """Samples written since the start; the next one gets this number."""
        return self._end

    @property
    def oldest(self) -> int:
        """Number of the oldest sample that is still there."""
        return max(0, self._end - len(self._kept))

    def write(self, samples: Samples) -> None:
        """Add samples, shape (n,), n at most the capacity; the oldest make room."""
        count = len(samples)
        if count > len(self._kept):
            message = f"{count} samples at once do not fit into a ring of {len(self._kept)}"
            raise ValueError(message)
        at = self._end % len(self._kept)
        before_edge = min(count, len(self._kept) - at)
        self._kept[at : at + before_edge] = samples[:before_edge]
        self._kept[: count - before_edge] = samples[before_edge:]
        self._end += count

    def copy(self, first: int, end: int) -> Samples:
        """Samples `first` to `end` (not included) of the stream, shape (end - first,), as a copy.

        Raises
        ------
        ValueError
            If some of them are not in the ring: a wrong sample must never be handed out for a lost one.
        """
        if not self.oldest <= first <= end <= self._end:
            message = f"samples {first} to {end} are not among {self.oldest} to {self._end}"
            raise ValueError(message)
        size = len(self._kept)
        at = first % size
        before_edge = min(end - first, size - at)
        return np.concatenate((self._kept[at : at + before_edge], self._kept[: end - first - before_edge]))
