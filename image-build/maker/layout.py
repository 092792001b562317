"""Where everything lies on the card. DOS partition table: the boards' first loader reads no other on every model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

SECTOR: Final = 512
MIB: Final = 2**20 // SECTOR
SIGNATURE: Final = "4b656c31"
"""Of the disk, in its partition table: by it the initial RAM disk knows the card."""


@dataclass(frozen=True, slots=True)
class Partition:
    """One of the four; `start` and `size` in sectors."""

    number: int
    name: str
    start: int
    size: int
    kind: str


def _laid(*parts: tuple[str, int, str]) -> tuple[Partition, ...]:
    start, found = MIB, []
    for number, (name, size, kind) in enumerate(parts, 1):
        found.append(Partition(number, name, start, size * MIB, kind))
        start += size * MIB
    return tuple(found)


SLOT_MIB: Final = 288

SELECTOR, SLOT_A, SLOT_B, DATA = PARTITIONS = _laid(
    ("SELECT", 40, "c"),  # FAT32: says which slot is started
    ("SLOT", SLOT_MIB, "c"),  # FAT32: all that a start needs; never written but by an update
    ("SLOT", SLOT_MIB, "c"),  # the other one
    ("keelnote-data", 32, "83"),  # ext4: the only one that is written while the box plays; grows at the first start
)

DISK_SECTORS: Final = DATA.start + DATA.size

TABLE: Final = f"label: dos\nlabel-id: 0x{SIGNATURE}\nunit: sectors\n" + "".join(
    f"start={part.start}, size={part.size}, type={part.kind}\n" for part in PARTITIONS
)
"""For sfdisk."""
