"""Every write to a disk, in order, and what a power cut at any moment may have left of them.

QEMU's block driver `blklogwrites` keeps them in the format of the kernel's target "log-writes" (kernel documentation,
admin-guide/device-mapper/log-writes; the structures are in drivers/md/dm-log-writes.c): one sector with magic number,
version, number of entries and size of a sector; then for each entry one sector that says what it is, and its data.
"""

from __future__ import annotations

import random
import struct
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

MAGIC: Final = 0x6A736677736872
VERSION: Final = 1
SECTOR: Final = 512
HEAD: Final = struct.Struct("<QQQI")
"""Magic number, version, entries, bytes of a sector. The number of entries is only brought up to date now and then, so
that it is not used here: entries are read as far as there are any."""

ENTRY: Final = struct.Struct("<QQQQ")
"""First sector, sectors, flags, bytes of data that are no sectors."""

FLUSH, FUA, DISCARD, MARK = 1, 2, 4, 8


@dataclass(frozen=True, slots=True)
class Write:
    """One entry of a log.

    Parameters
    ----------
    sector, sectors : int
        Where it goes, and how long it is.
    flags : int
        FLUSH: all that was finished before is safe. FUA: this itself is safe once it is finished.
    data, end : int
        Where in the log its data begin and end, in bytes.
    """

    sector: int
    sectors: int
    flags: int
    data: int
    end: int


def writes_of(log: Path) -> tuple[Write, ...]:
    """Read a log, also one whose writer was killed.

    Raises
    ------
    ValueError
        If it is no such log.
    """
    size = log.stat().st_size
    if size < SECTOR:
        return ()
    with log.open("rb") as file:
        magic, version, _, sector = HEAD.unpack(file.read(HEAD.size))
        if (magic, version, sector) != (MAGIC, VERSION, SECTOR):
            message = f"{log.name} is no log of writes: {magic:#x}, version {version}, sectors of {sector}"
            raise ValueError(message)
        return tuple(_entries(file, size))


def _entries(file: BinaryIO, size: int) -> Iterator[Write]:
    at = SECTOR
    while at + SECTOR <= size:
        file.seek(at)
        sector, sectors, flags, extra = ENTRY.unpack(file.read(ENTRY.size))
        data = at + SECTOR
        end = data + (0 if flags & DISCARD else sectors * SECTOR + -(-extra // SECTOR) * SECTOR)
        if (not sectors and not flags) or end > size:  # a hole, or the entry that the end came upon
            return
        yield Write(sector, sectors, flags, data, end)
        at = end


def flushed(writes: tuple[Write, ...]) -> int:
    """How many of the entries are safe: those up to the last flush."""
    return max((number for number, one in enumerate(writes, 1) if one.flags & FLUSH), default=0)


def after_cut(
    base: Path, log: Path, writes: tuple[Write, ...], into: Path, chance: random.Random | None = None
) -> Path:
    """Make the disk as a power cut after these writes leaves it.

    Parameters
    ----------
    base, log : Path
        The disk before the first write, and the log that holds their data.
    writes : tuple of Write
        Those that the disk had been given when the power went.
    into : Path
        The file to be made.
    chance : Random or None
        None: the disk had written all of it, in order. Else what it does with writes that no flush has made safe is
        drawn: each of them is on the disk or not, in any order, and one of them only with its first sectors.
    """
    subprocess.run(["cp", "--sparse=always", base, into], check=True)
    safe = len(writes) if chance is None else flushed(writes)
    late = [one for one in writes[safe:] if one.sectors]
    torn: Write | None = None
    if chance is not None:
        late = [one for one in late if one.flags & FUA or chance.random() < 0.5]
        chance.shuffle(late)
        long = [one for one in late if one.sectors > 1 and not one.flags & FUA]
        torn = chance.choice(long) if long else None
    with log.open("rb") as source, into.open("r+b") as disk:
        for one in (*writes[:safe], *late):
            if not one.flags & DISCARD:
                source.seek(one.data)
                data = source.read(one.sectors * SECTOR)
                if chance is not None and one is torn:
                    data = data[: SECTOR * chance.randrange(1, one.sectors)]
                disk.seek(one.sector * SECTOR)
                disk.write(data)
    return into
