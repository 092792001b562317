"""The sound of a passage: pieces of a take, looped without a seam, slower if asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from firmware.passage import Passage
from firmware.sound.stretch import Stretcher
from firmware.units import RATE, Samples

FIRST_PIECE: Final = 3 * RATE // 20
"""Samples read first: enough for the first sound of a slow replay too, and here at once."""

PIECE: Final = RATE // 2
"""Samples read at a time after that: long enough that a seek into the file hardly counts."""

SEAM: Final = RATE // 50
"""Samples before the end of a loop over which its beginning comes in: 20 ms."""

Read = Callable[[int, int], Samples]
"""Reads at most so many samples from a place of the take on; fewer at its end."""


class PassageSound:
    """Makes the sound of one passage, piece by piece.

    Parameters
    ----------
    passage : Passage
        What to play.
    read : function
        Reads the take. Whatever it raises comes out of `next`.
    """

    def __init__(self, passage: Passage, read: Read) -> None:
        self._passage = passage
        self._read = read
        self._place = passage.begin if passage.looped and passage.first >= passage.end else passage.first
        self._left = passage.count
        self._piece = FIRST_PIECE
        self._slow = None if passage.speed >= 1.0 else Stretcher(passage.speed)
        self.over = False
        """Whether the last piece has been given."""

    def next(self) -> Samples:
        """The next piece, shape (n,), any n; the last one when `over` is true afterwards.

        The seam of a loop has equal power: half of the take's end and half of what comes before its beginning are each
        3 dB down there. The loop keeps its length to the sample, so that it stays in time.
        """
        sound = self._looped() if self._passage.looped else self._straight()
        self._piece = PIECE
        if self._slow is None:
            return sound
        slow = self._slow.process(sound)
        return np.concatenate([slow, self._slow.finish()]) if self.over else slow

    def _straight(self) -> Samples:
        wanted = min(self._piece, self._left) if self._passage.count else self._piece
        sound = self._read(self._place, wanted)
        self._place += len(sound)
        self._left -= len(sound)
        # The end shows only in a read that comes back short; an exact fit in the next one, which is empty.
        self.over = len(sound) < wanted or (self._passage.count > 0 and self._left <= 0)
        return sound

    def _looped(self) -> Samples:
        begin, end = self._passage.begin, self._passage.end
        seam = min(SEAM, (end - begin) // 2)
        if self._place < end - seam:
            sound = self._read(self._place, min(self._piece, end - seam - self._place))
            self._place += len(sound)
            if len(sound):
                return sound
            # The take is shorter than its loop: go round from here, unless there is nothing to go round.
            self.over = self._place <= begin
            self._place = begin
            return sound
        offset = self._place - (end - seam)
        going = self._filled(self._place, seam - offset)
        coming = self._filled(begin - seam + offset, seam - offset)
        angle = (np.arange(offset, seam, dtype=np.float32) + 0.5) / seam * np.float32(np.pi / 2)
        self._place = begin
        return (going * np.cos(angle) + coming * np.sin(angle)).astype(np.float32)

    def _filled(self, first: int, count: int) -> Samples:
        """So many samples of the take, silence where there is none."""
        sound = np.zeros(count, dtype=np.float32)
        missing = min(max(-first, 0), count)
        if missing < count:
            got = self._read(first + missing, count - missing)
            sound[missing : missing + len(got)] = got
        return sound
