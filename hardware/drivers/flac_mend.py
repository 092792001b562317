"""Gives a take that a power cut left without an end its length back (FLAC, RFC 9639)."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

WINDOW: Final = 1 << 20
"""Bytes that are searched at a time, from the end."""

OVERLAP: Final = 1 << 16
"""Bytes that two windows share; a frame of 4096 samples of two channels in 24 bits has 24.6 kB at most."""

SEARCHED: Final = 64 * WINDOW
"""Nothing further from the end is searched: a stick that lost more than this was not cut off but is broken."""

SHORTEST: Final = 10
"""Bytes of a frame of silence: its header, one value for all its samples, and its check value."""

NEAR_ENDS: Final = 4
"""Places at which a frame may end that are tried: what only looks like the next frame's beginning is seldom met."""

SAFE: Final = sum(getattr(os, name, 0) for name in ("O_NONBLOCK", "O_NOFOLLOW", "O_CLOEXEC", "O_BINARY"))
"""How a file of somebody else's stick is opened; not every system knows all of it."""

HEAD: Final = 42
"""Bytes of the mark "fLaC", a block header and STREAMINFO (RFC 9639, 8.1 and 8.2)."""


def _table(polynomial: int, width: int) -> tuple[int, ...]:
    top, mask = 1 << (width - 1), (1 << width) - 1

    def entry(value: int) -> int:
        value <<= width - 8
        for _ in range(8):
            value = (value << 1) ^ polynomial if value & top else value << 1
        return value & mask

    return tuple(map(entry, range(256)))


CRC_8: Final = _table(0x07, 8)
CRC_16: Final = _table(0x8005, 16)


def crc_8(data: bytes) -> int:
    """Check value of a frame header (RFC 9639, 9.1.8)."""
    value = 0
    for byte in data:
        value = CRC_8[value ^ byte]
    return value


def crc_16(data: bytes) -> int:
    """Check value of a whole frame (RFC 9639, 9.3)."""
    value = 0
    for byte in data:
        value = (value << 8) & 0xFFFF ^ CRC_16[value >> 8 ^ byte]
    return value


@dataclass(frozen=True, slots=True)
class _Frame:
    at: int
    number: int
    size: int
    """Samples in it."""


@dataclass(frozen=True, slots=True)
class _End:
    """Where the last whole frame ends: bytes and samples from the beginning of the file."""

    at: int
    samples: int


def unfinished(place: Path) -> bool:
    """Whether it is a FLAC file that does not know its own length."""
    with _opened(place, os.O_RDONLY) as file:
        head = file.read(HEAD)
    return _is_flac(head) and _total(head) == 0


def cut_off(place: Path) -> bool:
    """Whether `mend` has something to do: its sound does not have the length that it says, or it says none."""
    with _opened(place, os.O_RDONLY) as file:
        head = file.read(HEAD)
        end = _end(file, head) if _is_flac(head) else None
    return end is not None and end.samples != _total(head)


def mend(place: Path) -> int:
    """Cut off what is not a whole frame, write the length into the header, and say how many samples there are.

    A file that has the length it says, or is no FLAC file of one block size, stays as it is. Links are not followed.

    Raises
    ------
    OSError
        If it can't be read or written.
    """
    with _opened(place, os.O_RDWR) as file:
        head = file.read(HEAD)
        if not _is_flac(head):
            return 0
        total = _total(head)
        end = _end(file, head)
        if end is None or end.samples == total:
            return total
        file.truncate(end.at)
        file.seek(21)
        file.write(((head[21] & 0xF0) << 32 | end.samples).to_bytes(5, "big"))
        file.write(bytes(16))  # no check sum of the sound: that of the whole take, if there was one, no longer holds
        file.flush()
        os.fsync(file.fileno())
        return end.samples


def _opened(place: Path, flags: int) -> BinaryIO:
    # A pipe or a device of this name would hold up whoever opens it.
    descriptor = os.open(place, flags | SAFE)
    file = os.fdopen(descriptor, "rb" if flags == os.O_RDONLY else "r+b")
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        file.close()
        raise OSError(f"{place.name} is no file")
    return file


def _is_flac(head: bytes) -> bool:
    return len(head) == HEAD and head[:4] == b"fLaC"


def _total(head: bytes) -> int:
    # The lower 36 bits of bytes 18 to 25: samples in all, 0 for not known.
    return int.from_bytes(head[21:26], "big") & 0xF_FFFF_FFFF


def _end(file: BinaryIO, head: bytes) -> _End | None:
    """The end of the last whole frame; None if there is none, or frames are not of one size."""
    if head[8:10] != head[10:12]:
        return None
    block_size = int.from_bytes(head[8:10], "big")
    size = file.seek(0, os.SEEK_END)
    stop, step = size, OVERLAP  # a whole file has its last frame at its very end: no need to read more of it
    while stop > max(HEAD, size - SEARCHED):
        start = max(HEAD, stop - step)
        file.seek(start)
        data = file.read(min(stop + OVERLAP, size) - start)
        stop, step = start, WINDOW
        for frame, end in _whole_frames(data):
            return _End(start + end, frame.number * block_size + frame.size)
    return None


def _whole_frames(data: bytes) -> Iterator[tuple[_Frame, int]]:
    """Frames whose check value is right, the last one first, and where each ends."""
    ends = [len(data)]
    for frame in reversed(_frames(data)):
        for end in reversed(ends[-NEAR_ENDS:]):
            if crc_16(data[frame.at : end]) == 0:
                yield frame, end
                break
        ends.append(frame.at)


def _frames(data: bytes) -> list[_Frame]:
    found: list[_Frame] = []
    at = data.find(b"\xff\xf8")  # sync code, one block size for all frames (RFC 9639, 9.1)
    while at >= 0:
        frame = _frame(at, data[at : at + 16])
        if frame is not None:
            found.append(frame)
        at = data.find(b"\xff\xf8", at + 1)
    return found


def _frame(at: int, head: bytes) -> _Frame | None:
    """The frame that begins here; None if this only looks like one."""
    if len(head) < SHORTEST:
        return None
    first = head[4]
    extra = 0 if first < 0x80 else 8 - (first ^ 0xFF).bit_length() - 1
    if first & 0xC0 == 0x80 or extra > 6 or any(byte & 0xC0 != 0x80 for byte in head[5 : 5 + extra]):
        return None
    number = first & (0x7F >> (extra + 1 if extra else 0))
    for byte in head[5 : 5 + extra]:
        number = number << 6 | byte & 0x3F
    size_code, rate_code = head[2] >> 4, head[2] & 0x0F
    size_bytes = {6: 1, 7: 2}.get(size_code, 0)
    length = 5 + extra + size_bytes + {12: 1, 13: 2, 14: 2}.get(rate_code, 0)
    if size_code == 0 or len(head) <= length or crc_8(head[: length + 1]) != 0:
        return None
    return _Frame(at, number, _size(size_code, head[5 + extra : 5 + extra + size_bytes]))


def _size(code: int, told: bytes) -> int:
    """Samples in a frame (RFC 9639, table 14)."""
    if told:
        return int.from_bytes(told, "big") + 1
    if code == 1:
        return 192
    return 576 << (code - 2) if code <= 5 else 256 << (code - 8)
