"""Gives a take that a power cut left without an end its length back (FLAC, RFC 9639)."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

TAIL: Final = 1 << 20
"""Bytes searched at the end; a frame of 4096 samples in 24 bits has 12.4 kB at most."""

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


def unfinished(place: Path) -> bool:
    """Whether it is a FLAC file that does not know its own length."""
    with place.open("rb") as file:
        head = file.read(HEAD)
    return len(head) == HEAD and head[:4] == b"fLaC" and _total(head) == 0


def mend(place: Path) -> int:
    """Cut off what is not a whole frame, write the length into the header, and say how many samples there are.

    A file that knows its length, or is no FLAC file of one block size, stays as it is.
    """
    with place.open("r+b") as file:
        head = file.read(HEAD)
        if len(head) < HEAD or head[:4] != b"fLaC" or head[8:10] != head[10:12]:
            return 0
        if _total(head):
            return _total(head)
        block_size = int.from_bytes(head[8:10], "big")
        start = max(HEAD, file.seek(0, os.SEEK_END) - TAIL)
        file.seek(start)
        tail = file.read()
        frames, end = _whole_frames(tail)
        if frames:
            file.truncate(start + end)
            file.seek(21)
            file.write(((head[21] & 0xF0) << 32 | frames * block_size).to_bytes(5, "big"))
            file.flush()
            os.fsync(file.fileno())
        return frames * block_size


def _total(head: bytes) -> int:
    # The lower 36 bits of bytes 18 to 25: samples in all, 0 for not known.
    return int.from_bytes(head[21:26], "big") & 0xF_FFFF_FFFF


def _whole_frames(tail: bytes) -> tuple[int, int]:
    """Frames up to the last whole one, counted from the start of the file, and where that one ends in `tail`."""
    frames = _frames(tail)
    end = len(tail)
    for frame in reversed(frames):
        if crc_16(tail[frame.at : end]) == 0:
            return frame.number + 1, end
        end = frame.at
    return 0, 0


def _frames(tail: bytes) -> list[_Frame]:
    found: list[_Frame] = []
    at = tail.find(b"\xff\xf8")  # sync code, one block size for all frames (RFC 9639, 9.1)
    while at >= 0:
        number = _number(tail[at : at + 16])
        if number is not None:
            found.append(_Frame(at, number))
        at = tail.find(b"\xff\xf8", at + 1)
    return found


def _number(head: bytes) -> int | None:
    """Number of the frame that begins here; None if this only looks like a frame."""
    if len(head) < 16:
        return None
    first = head[4]
    extra = 0 if first < 0x80 else 8 - (first ^ 0xFF).bit_length() - 1
    if first & 0xC0 == 0x80 or extra > 6 or any(byte & 0xC0 != 0x80 for byte in head[5 : 5 + extra]):
        return None
    number = first & (0x7F >> (extra + 1 if extra else 0))
    for byte in head[5 : 5 + extra]:
        number = number << 6 | byte & 0x3F
    size_code, rate_code = head[2] >> 4, head[2] & 0x0F
    length = 5 + extra + {6: 1, 7: 2}.get(size_code, 0) + {12: 1, 13: 2, 14: 2}.get(rate_code, 0)
    return number if crc_8(head[: length + 1]) == 0 else None
