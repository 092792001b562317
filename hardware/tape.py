"""A bounded queue of sound blocks from the audio callback to the listener, without a lock."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.units import BLOCK, Samples

SLOTS: Final = 512
"""Blocks kept: 5.5 s of 512 samples, 2 MB. A listener that is later than that has lost the thread anyway."""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Microphone and own sound of the same samples, shape (n,) each; `position` is the first one's number."""

    mic: Samples
    own: Samples
    position: int


class Tape:
    """One writer, one reader, memory taken once. A full tape drops the newest block and counts it.

    The writer changes only `_written`, the reader only `_read`, each after its work on the slot is done; with one
    of each, that needs no lock (a ring buffer of one producer and one consumer, common practice).

    Parameters
    ----------
    slots : int
        Blocks that it holds.
    block : int
        Samples per slot; longer blocks take several.
    """

    def __init__(self, slots: int = SLOTS, block: int = BLOCK) -> None:
        self._mic = np.zeros((slots, block), dtype=np.float32)
        self._own = np.zeros((slots, block), dtype=np.float32)
        self._positions = [0] * slots
        self._lengths = [0] * slots
        self._written = 0
        self._read = 0
        self.dropped = 0
        """Slots' worth of sound that found no room."""

    def __len__(self) -> int:
        return self._written - self._read

    def put(self, mic: Samples, own: Samples, position: int) -> None:
        """Add a block, shape (n,) each; called by the writer, never waits."""
        slots, block = self._mic.shape
        for at in range(0, len(mic), block):
            if self._written - self._read == slots:
                self.dropped += 1
                continue
            slot = self._written % slots
            length = min(block, len(mic) - at)
            self._mic[slot, :length] = mic[at : at + length]
            self._own[slot, :length] = own[at : at + length]
            self._positions[slot] = position + at
            self._lengths[slot] = length
            self._written += 1

    def take(self) -> Piece | None:
        """Give the oldest block as a copy, None when there is none; called by the reader, never waits."""
        if self._written == self._read:
            return None
        slot = self._read % len(self._lengths)
        length = self._lengths[slot]
        piece = Piece(self._mic[slot, :length].copy(), self._own[slot, :length].copy(), self._positions[slot])
        self._read += 1
        return piece
