"""A small file on a FAT32 partition, read and overwritten in its place without a mount: one sector changes, no other.

A mount for writing would change more: it marks the partition as in use in its very first sector, and the file's date in
its folder. A card that loses power in one of these may not start any more. Microsoft, "FAT32 File System Specification"
1.03: the places of all numbers that are read here.
"""

from __future__ import annotations

import mmap
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

SECTOR: Final = 512
"""Bytes that a card writes wholly or not at all."""

ENTRY: Final = 32
LAST_CLUSTER: Final = 0x0FFFFFF8
LABEL_OR_LONG_NAME: Final = 0x08


@dataclass(frozen=True, slots=True)
class Place:
    """Where a file of at most one sector lies on its partition, in bytes."""

    at: int
    size: int


def place_of(device: Path, name: str) -> Place:
    """Find a file of the root folder by its name of eight and three letters.

    Raises
    ------
    ValueError
        If there is no such file, if it is larger than a sector, or if the partition has no FAT32 of these sectors.
    """
    stem, _, ending = name.upper().partition(".")
    wanted = f"{stem:8}{ending:3}".encode("ascii")
    with device.open("rb") as file:
        head = file.read(SECTOR)
        sector, reserved, tables, length, root = (
            int.from_bytes(head[at:end], "little") for at, end in ((11, 13), (14, 16), (16, 17), (36, 40), (44, 48))
        )
        if head[510:] != b"\x55\xaa" or sector != SECTOR or not head[13]:
            message = f"{device} has no FAT32 with sectors of {SECTOR} bytes"
            raise ValueError(message)
        cluster = head[13] * SECTOR
        data = (reserved + tables * length) * SECTOR
        number, left = root, 65536 * ENTRY // cluster  # a folder has no more; a damaged one may be a ring
        while 2 <= number < LAST_CLUSTER and left > 0:
            file.seek(data + (number - 2) * cluster)
            folder = file.read(cluster)
            for at in range(0, len(folder), ENTRY):
                entry = folder[at : at + ENTRY]
                if entry[:11] == wanted and not entry[11] & LABEL_OR_LONG_NAME:
                    first = int.from_bytes(entry[26:28], "little") | int.from_bytes(entry[20:22], "little") << 16
                    return _checked(device, name, data + (first - 2) * cluster, int.from_bytes(entry[28:32], "little"))
            file.seek(reserved * SECTOR + 4 * number)
            number, left = int.from_bytes(file.read(4), "little") & 0x0FFFFFFF, left - 1
    message = f"{device} has no {name}"
    raise ValueError(message)


def read(device: Path, name: str) -> str:
    """Give the text of a small file, from the card and not from memory."""
    place = place_of(device, name)
    with _opened(device, os.O_RDONLY) as handle:
        return _sector(handle, place)[: place.size].decode("ascii")


def overwrite(device: Path, name: str, text: str) -> None:
    """Put a text in the place of another that is as long, and wait until it is on the card.

    Raises
    ------
    ValueError
        If the file is of another length: then more than one sector would change.
    OSError
        If the card did not keep it.
    """
    place, data = place_of(device, name), text.encode("ascii")
    if len(data) != place.size:
        message = f"{name} on {device} has {place.size} bytes, not {len(data)}"
        raise ValueError(message)
    with _opened(device, os.O_RDWR) as handle:
        piece = mmap.mmap(-1, SECTOR)  # begins where a page does, as O_DIRECT asks for
        piece[:] = data + _sector(handle, place)[len(data) :]
        os.pwritev(handle, [piece], place.at)
        os.fsync(handle)
        if _sector(handle, place)[: len(data)] != data:
            message = f"{name} on {device} was not kept"
            raise OSError(message)


def _checked(device: Path, name: str, at: int, size: int) -> Place:
    if not 0 < size <= SECTOR or at <= 0:
        message = f"{name} on {device} is of {size} bytes, not of 1 to {SECTOR}"
        raise ValueError(message)
    return Place(at, size)


def _sector(handle: int, place: Place) -> bytes:
    piece = mmap.mmap(-1, SECTOR)
    os.preadv(handle, [piece], place.at)
    return piece[:]


@contextmanager
def _opened(device: Path, way: int) -> Iterator[int]:
    # A card is read and written past the kernel's memory, in sectors; with it, eight would be written at once.
    past = os.O_DIRECT if stat.S_ISBLK(device.stat().st_mode) else 0
    handle = os.open(device, way | os.O_SYNC | past)
    try:
        yield handle
    finally:
        os.close(handle)
