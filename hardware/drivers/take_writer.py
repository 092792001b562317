"""Writes one take to the stick, in parts, and through anything that the stick may do meanwhile.

Every sample stays in a backlog (`hardware.drivers.take_backlog`) until the stick says that it is safe. When the stick
goes, the backlog grows, on the box's card; when it comes back, what the stick kept is measured, and a new part goes on
with the very next sample. So the parts of a take, one after the other, are the take.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Final

import numpy as np

from firmware.errors import BadFileError, DeviceError, KeelnoteError
from firmware.ports import Stick, TakeFile
from firmware.takes.parts import FRAME, longest_part, part_path
from firmware.takes.recorder import Chunk
from firmware.units import RATE, Samples
from hardware.drivers.stick_errors import OTHER, stick_error
from hardware.drivers.take_backlog import MEMORY, Backlog
from hardware.drivers.take_part import PRINT, Order, Part, mark_of
from hardware.drivers.take_spool import BYTES, Spool, SpoolFile, Where

HELD_BACK: Final = 2 * FRAME
"""Samples that a sync may not have reached: the encoder holds its last frame."""

PIECE: Final = RATE
"""Samples written at a time."""

MOST: Final = 20 * PIECE
"""Samples written before the next look at what waits: a long backlog must not hold up the sound of now."""

MOST_PIECES: Final = 2000
"""And so many pieces, however small they are."""

UNSYNCED: Final = RATE
"""Written sound is synced after so much of it even if less time has passed, as after a stall of the stick."""

CAUGHT_UP: Final = 2 * RATE
"""A backlog this short no longer goes to the card."""

ROOM_TO_RETURN: Final = 60 * RATE
"""Samples for which a stick must have room, beside the backlog, before a take returns to it."""

NAMES_TRIED: Final = 100

Tell = Callable[[str, str], None]
"""Takes the name of a message and its details."""


class TakeWriter:
    """One take on its way to the stick.

    Parameters
    ----------
    stick, spool
        Where it goes, and where it waits; without a spool only memory.
    order : Order
        What it is.
    tell : callable
        Told of what happens to the take.
    complain : callable
        Told of what the stick refuses.
    memory : int
        Samples that may wait in memory.
    """

    def __init__(
        self,
        stick: Stick,
        spool: Spool | None,
        order: Order,
        tell: Tell,
        complain: Callable[[KeelnoteError], None],
        memory: int = MEMORY,
    ) -> None:
        self._stick = stick
        self._spool = spool
        self._order = order
        self._tell = tell
        self._complain = complain
        self._longest = min(order.part_samples or longest_part(order.channels), longest_part(order.channels))
        self._backlog = Backlog(order.channels, memory=memory)
        self._file: TakeFile | None = None
        self._part = Part()
        self._number = 1  # of the part to be opened next
        self._head = self._silence(0)
        self._done: tuple[tuple[str, int], ...] = ()
        self._at = 0  # the next sample of the take to be written to the stick
        self._next: int | None = None  # the next sample of the microphone
        self._ready = True
        self._away = False
        self._full = False
        self._old = False
        self.ended = False

    @classmethod
    def of_kept(
        cls,
        stick: Stick,
        spool: Spool,
        kept: SpoolFile,
        tell: Tell,
        complain: Callable[[KeelnoteError], None],
    ) -> TakeWriter:
        """Write what an earlier run left on the card, once the stick is there that it belongs to."""
        where = kept.where
        self = cls(stick, spool, Order(where.path, where.number, channels=where.channels), tell, complain)
        self._backlog = Backlog(where.channels, where.first, kept=kept)
        self._part = Part(where.part, where.part_start, where.mark)
        self._number = where.part + 1
        self._at = self._backlog.end
        self._ready, self._away, self._old, self.ended = False, True, True, True
        return self

    # --- what the disk asks ---------------------------------------------------------------------------------------

    @property
    def path(self) -> str:
        """Path of its first part."""
        return self._order.path

    @property
    def number(self) -> int | None:
        """Number of the take in this rehearsal; None if it is from an earlier one."""
        return None if self._old else self._order.number

    def is_of(self, folder: str, number: int) -> bool:
        """Whether it is the take of this number in a rehearsal's folder; 0 is any number, no folder any rehearsal."""
        return number in {0, self._order.number} and (not folder or self.path.rpartition("/")[0] == folder)

    @property
    def parts(self) -> tuple[tuple[str, int], ...]:
        """Files that are finished on the stick, each with its samples."""
        return self._done

    @property
    def away(self) -> bool:
        """Whether it has to wait for its stick."""
        return not self._ready

    @property
    def held(self) -> int:
        """Samples of it that only memory holds."""
        return self._backlog.in_memory

    @property
    def room_wanted(self) -> int:
        """Bytes that the stick should have free before the take returns to it."""
        return BYTES * self._order.channels * (self._backlog.end - self._backlog.first + ROOM_TO_RETURN)

    def open(self) -> None:
        """Make the first file at once, so that whoever starts a take hears at once if that can't be done."""
        try:
            self._open()
        except DeviceError as error:
            self._lose(error)

    def add(self, chunk: Chunk) -> None:
        """Take in a chunk; what is missing before it becomes silence of the same length."""
        if self._next is None:
            self._next = chunk.first
            if chunk.first > self._order.first:
                missing = (chunk.first - self._order.first) / RATE
                self._tell("take-late", f"{self.path} begins {missing:.3f} s late")
        for at in range(self._next, chunk.first, RATE):
            self._take_in(self._silence(min(RATE, chunk.first - at)))
        self._take_in(chunk.samples)
        self._next = max(self._next, chunk.end)
        self.ended = self.ended or chunk.last

    def advance(self) -> None:
        """Write some of what waits to the stick, or to the card while there is no stick."""
        end = self._at + MOST
        for _ in range(MOST_PIECES):
            if not self._ready or self._at >= min(end, self._backlog.end):
                break
            try:
                self._write_piece()
            except KeelnoteError as error:
                self._lose(error)
        if not self._ready or (self._backlog.on_card and self._backlog.end - self._at > CAUGHT_UP):
            self._spill()

    def sync(self) -> None:
        """Make what was written safe; on the stick, or on the card while the stick is away."""
        if self._ready and self._file is not None:
            try:
                self._sync_file()
            except DeviceError as error:
                self._lose(error)
        if self._backlog.on_card:
            self._backlog.sync()
        if self._away and self._ready and self._at == self._backlog.end and not self._backlog.on_card:
            self._away = False
            self._tell("take-joined", self.path)

    def pulled(self) -> None:
        """Hear that the stick is gone, before it says so itself."""
        if self._ready:
            self._lose(stick_error(self.path, "stick-out"))

    def come_back(self) -> None:
        """Go on with the next part on the stick, if it lets us."""
        try:
            self._return()
        except KeelnoteError as error:
            self._complain(error)

    def finish(self) -> bool:
        """Close a take that has ended; whether all of it is on the stick now."""
        if not (self.ended and self._ready and self._at >= self._backlog.end):
            return False
        try:
            if not self._part.number:
                self._open()
            self._close_part()
        except KeelnoteError as error:
            self._lose(error)
            return False
        if self._away:
            self._tell("take-joined", self.path)
        return True

    def keep(self) -> None:
        """Let go for this run: what is not on the stick stays on the card, for the next one."""
        if self.finish():
            return
        if self._ready:
            with contextlib.suppress(KeelnoteError):
                self._close_part()
        self._spill()
        if self._backlog.in_memory:
            lost = self._backlog.in_memory / RATE
            self._tell("take-lost", f"the last {lost:.3f} s of {self.path} had neither stick nor card to go to")
        elif self._backlog.on_card and not self._old:
            self._tell("take-kept", self.path)
        self._backlog.sync()
        self._backlog.close()

    def discard(self) -> None:
        """Delete what the card and memory hold of it, as when its take is deleted."""
        self._backlog.forget(self._backlog.end)
        self._backlog.close()

    # --- the sound ------------------------------------------------------------------------------------------------

    def _silence(self, count: int) -> Samples:
        return np.zeros((count, 2) if self._order.channels == 2 else count, dtype=np.float32)

    def _take_in(self, samples: Samples) -> None:
        for _ in range(2):
            if self._full or not len(samples):
                return
            samples = samples[self._backlog.append(samples) :]
            if len(samples):
                self.advance()
        if len(samples):
            # One take, one fate: nothing is added after a gap of unknown length.
            self._full = True
            seconds = self._backlog.end / RATE
            self._tell("spool-full", f"{self.path} ends after {seconds:.3f} s, there is no room for more of it")

    def _write_piece(self) -> None:
        if self._file is None:
            self._open()
        ends = self._part.start + self._longest
        count = min(PIECE, self._backlog.end - self._at, ends - self._at)
        missing = self._backlog.first - self._at
        samples = self._silence(min(count, missing)) if missing > 0 else self._backlog.read(self._at, count)
        if self._file is not None:
            self._file.write(samples)
        if len(self._head) < PRINT:
            self._head = np.concatenate((self._head, samples[: PRINT - len(self._head)]))
            self._part = Part(self._part.number, self._part.start, mark_of(self._head))
        self._at += len(samples)
        if self._at == ends:
            self._close_part()
        elif self._at - self._backlog.first > UNSYNCED:
            self._sync_file()

    def _spill(self) -> None:
        order, part = self._order, self._part
        where = Where(order.path, order.number, order.channels, 0, part.number, part.start, part.mark)
        self._backlog.spill(self._spool, where)

    # --- the files ------------------------------------------------------------------------------------------------

    def _open(self) -> None:
        for number in range(self._number, self._number + NAMES_TRIED):
            try:
                self._file = self._stick.open_take(part_path(self.path, number), self._order.channels)
            except BadFileError as error:  # there is a file of this name, which is never replaced
                self._complain(error)
                continue
            self._part = Part(number, self._at)
            self._number = number + 1
            self._head = self._silence(0)
            return
        raise stick_error(self.path, OTHER, "no free name for the take")

    def _sync_file(self) -> None:
        if self._file is not None:
            self._file.sync()
            self._backlog.forget(max(self._part.start, self._at - HELD_BACK))

    def _close_part(self) -> None:
        if self._file is None:
            return
        length = self._file.close()
        if length < self._at - self._part.start:  # the stick refused the last of it
            raise stick_error(part_path(self.path, self._part.number), OTHER, "the end of the file was refused")
        self._file = None
        self._done = (*self._done, (part_path(self.path, self._part.number), length))
        self._backlog.forget(self._at)

    def _lose(self, error: KeelnoteError) -> None:
        self._complain(error)
        self._ready = False
        file, self._file = self._file, None
        if file is not None:
            with contextlib.suppress(KeelnoteError):
                file.close()
        self._spill()
        if not self._away:
            self._away = True
            self._tell("take-spooled", self.path)

    # --- coming back ----------------------------------------------------------------------------------------------

    def _return(self) -> None:
        found = self._found()
        if self._old and not found and not self._belongs_here():
            return
        # Without its earlier part this is another stick, which gets all that is not known to be safe on the first one.
        start = self._part.start + sum(length for _, length in found) if found else self._backlog.first
        if start < self._backlog.first:
            missing = (self._backlog.first - start) / RATE
            self._tell("take-lost", f"{missing:.3f} s of {self.path} that the stick had called safe are silent")
        known = {name for name, _ in self._done}
        self._done = (*self._done, *(one for one in found if one[0] not in known and one[1]))
        self._number = max(self._number, self._part.number + len(found))
        self._at = min(start, self._backlog.end)
        self._backlog.forget(self._at)
        self._ready = True

    def _found(self) -> tuple[tuple[str, int], ...]:
        """Files of the take from its last part on that are on this stick; none if it is another stick."""
        folder, _, _ = self.path.rpartition("/")
        names = frozenset(self._stick.names(folder))
        found: list[tuple[str, int]] = []
        number = self._part.number
        while number and (name := part_path(self.path, number)).rpartition("/")[2] in names:
            found.append((name, self._stick.part_length(name)))
            number += 1
        return tuple(found) if found and self._known(*found[0]) else ()

    def _known(self, name: str, length: int) -> bool:
        """Whether the file of this name is the part that was written last, and not another take's of the same name."""
        start = self._stick.read_take(name, 0, min(length, PRINT)) if length else self._silence(0)
        if length >= PRINT:
            return mark_of(start) == self._part.mark
        if self._part.start < self._backlog.first:
            return True
        ours = self._backlog.read(self._part.start, length)
        return mark_of(start[: len(ours)]) == mark_of(ours)

    def _belongs_here(self) -> bool:
        """Whether a take that never reached a stick may go to this one: not into another take of the same name."""
        folder, _, name = self.path.rpartition("/")
        return not self._part.number and name not in self._stick.names(folder)
