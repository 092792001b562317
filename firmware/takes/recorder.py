"""Cuts takes out of the microphone and the box's own sound, sample for sample, also from before the key was pressed."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from firmware.takes.preroll import Ring
from firmware.units import RATE, Samples

LONGEST_PREROLL: Final = 30 * RATE
"""30 s of float32 are 5.76 MB, for the microphone and for the box's own sound."""

START_GRACE: Final = RATE // 4
"""Kept beyond the pre-roll: a key press reaches the recorder this much later at most, and loses nothing by it."""

STOP_LAG: Final = RATE // 10
"""A take without an end is handed on this much late, so that an end a little in the past still cuts exactly."""

STEP: Final = 4096
"""A longer block is worked through in steps of this many samples, so that nothing unsaved is overwritten."""

BURST: Final = RATE
"""At most so many samples of a take are handed on per step: a long pre-roll comes in pieces, not in one heap."""


@dataclass(frozen=True, slots=True, eq=False)
class Chunk:
    """A piece of a take: `samples` are numbers `first` and up of the microphone; the take ends after a `last` one.

    The samples are a copy that nobody else writes to: shape (n,), or (n, 2) with the box's own sound beside.
    """

    number: int
    first: int
    samples: Samples
    last: bool = False

    @property
    def end(self) -> int:
        """Number of the first sample after the chunk."""
        return self.first + len(self.samples)


@dataclass(frozen=True, slots=True)
class _Run:
    """One take on its way: the next sample to hand on, and its end once that is known."""

    number: int
    next: int
    end: int | None = None
    channels: int = 1

    def ended(self, end: int) -> _Run:
        """The same, ending before sample `end`, or here if that was handed on already."""
        return replace(self, end=max(end, self.next))


@dataclass(frozen=True, slots=True)
class _Start:
    number: int
    first: int
    channels: int


@dataclass(frozen=True, slots=True)
class _Stop:
    end: int


class Recorder:
    """Always keeps the last seconds of the microphone and cuts takes out of the stream.

    `process` belongs to the sound thread. `start` and `stop` only leave a note and may be called from any thread; it
    is acted on at the next `process`. For any block sizes and any notes, a take holds exactly the microphone's samples
    from its first to its end: takes may follow each other within one block, and the pre-roll of one may reach into the
    take before.

    Parameters
    ----------
    preroll : int
        Samples before now that a take may begin with, 0 to 30 s; can be changed while running. The setting of the box
        says where in there a take does begin; a lower value here makes older sound unreachable.
    """

    def __init__(self, preroll: int = LONGEST_PREROLL) -> None:
        self._ring = Ring(LONGEST_PREROLL + START_GRACE + STEP)
        self._own = Ring(self._ring.capacity)
        self._notes: deque[_Start | _Stop] = deque()
        self._runs: list[_Run] = []
        self._forgotten = 0
        self._preroll = 0
        self.preroll = preroll

    @property
    def now(self) -> int:
        """Samples heard since the start."""
        return self._ring.end

    @property
    def preroll(self) -> int:
        """Samples before now that a take may begin with."""
        return self._preroll

    @preroll.setter
    def preroll(self, samples: int) -> None:
        # What a shorter pre-roll lets go stays gone when it is made longer again: the director chose not to keep it.
        self._forgotten = self.oldest
        self._preroll = min(max(int(samples), 0), LONGEST_PREROLL)

    @property
    def oldest(self) -> int:
        """Number of the oldest sample that a take may begin with."""
        return max(self._forgotten, self.now - self._preroll - START_GRACE, 0)

    @property
    def running(self) -> tuple[int, ...]:
        """Numbers of the takes of which something is still to be handed on."""
        return tuple(run.number for run in self._runs)

    def start(self, number: int, first: int, channels: int = 1) -> None:
        """Begin take `number` with sample `first`, now, past or future; with 2 channels the box's own sound is beside.

        One older than `oldest` is gone: then the take begins with what there is, as its first chunk says.
        A take without an end ends here.
        """
        self._notes.append(_Start(number, first, channels))

    def stop(self, end: int) -> None:
        """End the running take before sample `end`.

        Samples that were handed on already (older than 0.1 s) stay in the take. Without a running take nothing happens.
        """
        self._notes.append(_Stop(end))

    def process(self, mic: Samples, own: Samples | None = None) -> tuple[Chunk, ...]:
        """Hear one block, shape (n,), any n, and hand on what belongs to takes, in the order of the samples.

        `own` is what the box played at the same samples, same shape; without it that is silence.
        An empty block hands on all that is due, however much that is: the sound has ended, and nothing else will come.
        """
        self._read_notes()
        beside = np.zeros(len(mic), dtype=np.float32) if own is None else own
        chunks: list[Chunk] = []
        for at in range(0, len(mic), STEP):
            self._ring.write(mic[at : at + STEP])
            self._own.write(beside[at : at + STEP])
            self._hand_on(chunks)
        while len(mic) == 0 and self._hand_on(chunks):
            pass
        return tuple(chunks)

    def flush(self) -> tuple[Chunk, ...]:
        """End what is running now, and hand on all that is left."""
        self._read_notes()
        now = self.now
        self._runs = [run.ended(now if run.end is None else min(now, run.end)) for run in self._runs]
        chunks: list[Chunk] = []
        while self._hand_on(chunks):
            pass
        return tuple(chunks)

    def _read_notes(self) -> None:
        while self._notes:
            note = self._notes.popleft()
            wanted = note.end if isinstance(note, _Stop) else self.now
            self._runs = [run.ended(wanted) if run.end is None else run for run in self._runs]
            if isinstance(note, _Start):
                self._runs.append(_Run(note.number, max(note.first, self.oldest), channels=note.channels))

    def _hand_on(self, chunks: list[Chunk]) -> bool:
        """Add one piece of every take that has something due; say whether there was any."""
        before = len(chunks)
        self._runs = [left for run in self._runs if (left := self._hand_on_one(run, chunks)) is not None]
        return len(chunks) > before

    def _hand_on_one(self, run: _Run, chunks: list[Chunk]) -> _Run | None:
        end = self.now - STOP_LAG if run.end is None else min(run.end, self.now)
        end = max(run.next, min(end, run.next + BURST))
        last = end == run.end
        if end > run.next or last:
            chunks.append(Chunk(run.number, run.next, self._samples(run, end), last))
        return None if last else replace(run, next=end)

    def _samples(self, run: _Run, end: int) -> Samples:
        if end == run.next:  # a take that ends before it began may lie in the future
            return np.zeros((0, 2)[: run.channels], dtype=np.float32)
        mic = self._ring.copy(run.next, end)
        return mic if run.channels == 1 else np.column_stack((mic, self._own.copy(run.next, end)))
