"""Sound of a take that its stick does not take, kept on the box's own card until the stick is back.

Each file is a Sun/NeXT audio file (the `.au` format: a header in big-endian words, then samples) with 24 bits a sample.
Any player opens it, also one that a power cut left without an end: its header says that the length is not known. Where
the sound belongs stands in the header's text, so that nothing else has to survive with it.
"""

from __future__ import annotations

import contextlib
import json
import os
import struct
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

import numpy as np

from firmware.units import RATE, Samples
from hardware.drivers.flac_file import FULL_SCALE, NO_FOLLOW, Fsync, to_24_bit

MAGIC: Final = b".snd"
UNKNOWN_LENGTH: Final = 0xFFFF_FFFF
LINEAR_24: Final = 4
WORDS: Final = struct.Struct(">4sIIIII")
"""Mark, place of the samples, their bytes, encoding, samples a second, channels."""

MOST_TEXT: Final = 4096
BYTES: Final = 3
"""Of one sample."""

LIMIT: Final = 2_000_000_000
"""Bytes that all spooled sound may take: almost four hours of one channel."""

LEFT_FREE: Final = 200_000_000
"""Bytes of the card that are left to the rest of the box."""


@dataclass(frozen=True, slots=True)
class Where:
    """Where spooled sound belongs.

    Parameters
    ----------
    path : str
        The first part of its take, on the stick.
    number : int
        Number of the take in its rehearsal.
    channels : int
        1 or 2.
    first : int
        Sample of the take that the spooled sound begins with.
    part, part_start : int
        The part of the take that the stick broke off in, and the sample of the take that this part begins with.
    mark : int
        Check value by which that part is known again.
    """

    path: str
    number: int
    channels: int
    first: int
    part: int
    part_start: int
    mark: int = 0


class SpoolFile:
    """One file of spooled sound; made by a Spool. Errors come as OSError."""

    def __init__(self, place: Path, where: Where, descriptor: int, start: int, fsync: Fsync) -> None:
        self.place = place
        self.where = where
        self._descriptor = descriptor
        self._start = start
        self._fsync = fsync
        size = os.fstat(descriptor).st_size
        self.samples = max(0, size - start) // self._width
        """Whole samples of every channel that it holds."""

    @property
    def _width(self) -> int:
        return BYTES * self.where.channels

    def write(self, samples: Samples) -> None:
        """Add samples, shape (n,) or (n, channels): all of them or, with an OSError, none."""
        steps = to_24_bit(samples).astype(">i4").reshape(-1, 1).view(np.uint8)
        place = self._start + self.samples * self._width
        left = memoryview(steps[:, :BYTES].tobytes())
        while left:
            written = os.pwrite(self._descriptor, left, place)
            place += written
            left = left[written:]
        self.samples += len(samples)

    def read(self, first: int, count: int) -> Samples:
        """At most `count` samples from sample `first` of the file, shape (n,) or (n, 2)."""
        count = max(0, min(count, self.samples - first))
        data = os.pread(self._descriptor, count * self._width, self._start + first * self._width)
        wide = np.zeros((len(data) // BYTES, 4), dtype=np.uint8)
        wide[:, :BYTES] = np.frombuffer(data, dtype=np.uint8).reshape(-1, BYTES)
        steps = wide.reshape(-1).view(">i4").astype(np.int32) >> 8
        samples: Samples = (steps / FULL_SCALE).astype(np.float32)
        return samples if self.where.channels == 1 else samples.reshape(-1, self.where.channels)

    def sync(self) -> None:
        """Make what was written safe against a power cut."""
        self._fsync(self._descriptor)

    def close(self) -> None:
        """Let go of the file and leave it where it is; a second call does nothing."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1

    def remove(self) -> None:
        """Close and delete it: its sound is safe on the stick."""
        self.close()
        with contextlib.suppress(OSError):
            self.place.unlink()


def _free(folder: Path) -> int:
    found = os.statvfs(folder)
    return found.f_bavail * found.f_frsize


class Spool:
    """The folder on the card that takes sound for a stick that is away.

    Parameters
    ----------
    folder : Path
        Made when it is first needed.
    limit : int
        Bytes that everything in it may take.
    free : callable
        Bytes that are free where a folder is.
    fsync : callable
        Makes a file descriptor's file safe.
    """

    def __init__(
        self, folder: Path, limit: int = LIMIT, free: Callable[[Path], int] = _free, fsync: Fsync = os.fsync
    ) -> None:
        self.folder = folder
        self._limit = limit
        self._free = free
        self._fsync = fsync

    def room(self) -> int:
        """Bytes that may still be spooled; 0 when the card can't be used."""
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            used = sum(place.stat().st_size for place in self.folder.glob("*.au"))
            return max(0, min(self._limit - used, self._free(self.folder) - LEFT_FREE))
        except OSError:
            return 0

    def begin(self, where: Where) -> SpoolFile:
        """Make a new file for sound that belongs there; an OSError says why that is not possible."""
        self.folder.mkdir(parents=True, exist_ok=True)
        text = json.dumps(asdict(where)).encode() + b"\0"
        text += bytes(-(WORDS.size + len(text)) % 8)
        header = WORDS.pack(MAGIC, WORDS.size + len(text), UNKNOWN_LENGTH, LINEAR_24, RATE, where.channels)
        place = self._new_place()
        descriptor = os.open(place, os.O_RDWR | os.O_CREAT | os.O_EXCL | NO_FOLLOW, 0o600)
        try:
            os.pwrite(descriptor, header + text, 0)
            self._fsync(descriptor)
            self._sync_folder()
        except OSError:
            os.close(descriptor)
            raise
        return SpoolFile(place, where, descriptor, len(header + text), self._fsync)

    def kept(self) -> tuple[SpoolFile, ...]:
        """What an earlier run left behind, oldest first. Files that are not ours are passed over."""
        try:
            places = sorted(self.folder.glob("*.au"))
        except OSError:
            return ()
        return tuple(file for place in places if (file := self._opened(place)) is not None)

    def _opened(self, place: Path) -> SpoolFile | None:
        descriptor = -1
        try:
            descriptor = os.open(place, os.O_RDWR | NO_FOLLOW)
            head = os.pread(descriptor, WORDS.size + MOST_TEXT, 0)
            mark, start, _, encoding, rate, channels = WORDS.unpack_from(head)
            where = Where(**json.loads(head[WORDS.size : start].split(b"\0")[0]))
            known = (mark, encoding, rate) == (MAGIC, LINEAR_24, RATE) and channels == where.channels in {1, 2}
            if known and all(isinstance(one, int) for one in (where.first, where.part, where.part_start)):
                return SpoolFile(place, where, descriptor, start, self._fsync)
        except (OSError, ValueError, TypeError, struct.error):
            pass
        if descriptor >= 0:
            os.close(descriptor)
        return None

    def _new_place(self) -> Path:
        last = max((int(place.stem) for place in self.folder.glob("*.au") if place.stem.isdigit()), default=0)
        return self.folder / f"{last + 1:06d}.au"

    def _sync_folder(self) -> None:
        descriptor = os.open(self.folder, os.O_RDONLY)
        try:
            self._fsync(descriptor)
        finally:
            os.close(descriptor)
