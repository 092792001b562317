"""The parts of a take: how their files are called, how long they get, and where in them a sample lies.

A take is one recording, however many files it fills. The first is `take-01.flac`, the next ones are `take-01-2.flac`,
`take-01-3.flac` and so on; each begins with the sample after the last one of the file before.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from firmware.units import RATE

NAMED: Final = re.compile(r"take-(\d{2,6})(?:-([1-9]\d{0,5}))?\.flac")

FILE_LIMIT: Final = 2**32 - 1
"""Bytes of the largest file on FAT32 (Microsoft, FAT file system specification 1.03: a 32-bit DIR_FileSize)."""

FRAME_BYTES: Final = 12_400
"""Bytes at most of a frame of 4096 samples: 24 bits each as they are, with header and check value (RFC 9639, 9)."""

FRAME: Final = 4096
"""Samples in a frame of our FLAC files."""

HEAD_BYTES: Final = 1 << 20
"""Room left for what stands before the first frame, and to spare."""


@dataclass(frozen=True, slots=True, order=True)
class PartName:
    """What a file name says: number of the take, and which part of it this is, from 1."""

    number: int
    part: int


def part_name(name: str) -> PartName | None:
    """Read the name of a file; None if it is no part of a take. Part 1 bears no number of its own."""
    found = NAMED.fullmatch(name)
    if found is None or found[2] == "1":
        return None
    return PartName(int(found[1]), int(found[2] or 1))


def part_path(path: str, part: int) -> str:
    """Path of part `part`, from 1, of the take whose first part is `path`."""
    return path if part == 1 else f"{path.removesuffix('.flac')}-{part}.flac"


def parts_of(path: str, names: Iterable[str]) -> tuple[str, ...]:
    """Paths of those parts of the take at `path` that are among the names in its folder, in their order.

    A path that is itself a later part stands for that part alone, and one of another form for its own file.
    """
    folder, slash, first = path.rpartition("/")
    wanted = part_name(first)
    if wanted is None or wanted.part != 1:
        return (path,)
    found = {named.part: name for name in names if (named := part_name(name)) and named.number == wanted.number}
    found = {part: name for part, name in found.items() if name == part_path(first, part)}
    return tuple(f"{folder}{slash}{found[part]}" for part in sorted(found)) or (path,)


def takes_in(names: Iterable[str]) -> Mapping[int, tuple[str, ...]]:
    """Number of each take in a folder, with the names of its parts in their order."""
    named = sorted((found, name) for name in names if (found := part_name(name)) is not None)
    takes: dict[int, tuple[str, ...]] = {}
    for found, name in named:
        takes[found.number] = (*takes.get(found.number, ()), name)
    return takes


def place_in(lengths: Iterable[int], sample: int) -> tuple[int, int] | None:
    """Which part, from 0, a sample of the take is in, and which sample of that part it is; None after the end.

    Parameters
    ----------
    lengths : iterable of int
        Samples in each part.
    sample : int
        Counted from the start of the take.
    """
    for place, length in enumerate(lengths):
        if sample < length:
            return place, sample
        sample -= length
    return None


def longest_part(channels: int, minutes: int = 0) -> int:
    """Samples that a part may have: the minutes that were chosen, and never more than FAT32 takes in one file.

    The bound counts every sample with its whole 24 bits; what compression wins is not relied on.
    """
    frames = (FILE_LIMIT - HEAD_BYTES) // (FRAME_BYTES * channels)
    bound = frames * FRAME
    return min(bound, minutes * 60 * RATE) if minutes > 0 else bound
