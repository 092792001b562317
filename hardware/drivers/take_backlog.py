"""The sound of a take that is not yet safe on its stick: in memory, and on the box's card while the stick is away."""

from __future__ import annotations

import contextlib
from collections import deque
from dataclasses import replace
from typing import Final

import numpy as np

from firmware.units import RATE, Samples
from hardware.drivers.take_spool import BYTES, Spool, SpoolFile, Where

MEMORY: Final = 60 * RATE
"""Samples of a take that are held in memory when neither stick nor card takes them."""


class Backlog:
    """Samples `first` to `end` of a take, counted from its start; older ones are safe elsewhere and forgotten.

    Parameters
    ----------
    channels : int
        1 or 2.
    first : int
        Sample of the take that it begins with.
    memory : int
        Samples held in memory at most.
    kept : SpoolFile or None
        Sound on the card that an earlier run left.
    """

    def __init__(self, channels: int, first: int = 0, memory: int = MEMORY, kept: SpoolFile | None = None) -> None:
        self._channels = channels
        self._memory = memory
        self._pieces: deque[Samples] = deque()
        self._card = kept
        self._tail = first + (kept.samples if kept else 0)  # first sample that is in memory
        self.first = first
        self.end = self._tail

    @property
    def on_card(self) -> bool:
        """Whether part of it is on the card."""
        return self._card is not None

    @property
    def in_memory(self) -> int:
        """Samples of it that only memory holds."""
        return self.end - self._tail

    def append(self, samples: Samples) -> int:
        """Add samples, shape (n,) or (n, channels), and say how many of them there was room for."""
        room = max(0, self._memory - self.in_memory)
        taken = samples[:room]
        if len(taken):
            self._pieces.append(taken)
            self.end += len(taken)
        return len(taken)

    def read(self, first: int, count: int) -> Samples:
        """At most `count` samples from sample `first` of the take on; it must not be forgotten yet."""
        if first < self._tail and self._card is not None:
            return self._card.read(first - self._card.where.first, min(count, self._tail - first))
        at = self._tail
        for piece in self._pieces:
            if first < at + len(piece):
                return piece[first - at : first - at + count]
            at += len(piece)
        return np.zeros((0, 2)[: self._channels], dtype=np.float32)

    def forget(self, before: int) -> bool:
        """Let go of what is safe, everything before this sample of the take; whether that emptied the card."""
        self.first = max(self.first, min(before, self.end))
        while self._pieces and self._tail + len(self._pieces[0]) <= self.first:
            self._tail += len(self._pieces.popleft())
        if self._card is None or self.first < self._tail:
            return False
        self._card.remove()
        self._card = None
        return True

    def spill(self, spool: Spool | None, where: Where) -> bool:
        """Move what memory holds to the card; false if that does not take all of it, which then stays in memory."""
        if spool is None or not self.in_memory:
            return not self.in_memory
        try:
            if self._card is None:
                self._card = spool.begin(replace(where, first=self._tail))
            room = spool.room() // (BYTES * self._channels)
            while self._pieces and len(self._pieces[0]) <= room:
                self._card.write(self._pieces[0])
                room -= len(self._pieces[0])
                self._tail += len(self._pieces.popleft())
        except OSError:
            return False
        return not self._pieces

    def sync(self) -> None:
        """Make what is on the card safe against a power cut; a card that refuses has been told of already."""
        if self._card is not None:
            with contextlib.suppress(OSError):
                self._card.sync()

    def close(self) -> None:
        """Let go of the file on the card, which stays there."""
        if self._card is not None:
            self._card.close()
