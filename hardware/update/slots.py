"""The two slots of the card, and the file by which the board's firmware chooses one (`autoboot.txt`)."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

NAMES: Final = {2: "A", 3: "B"}
"""Names of the slots by the number of their partition."""

ARGUMENT: Final = "keelnote.slot={slot} rauc.slot={name}"
"""What a slot's `cmdline.txt` tells the kernel of itself; as long for one as for the other."""


@dataclass(frozen=True, slots=True)
class Where:
    """Where the running system came from, as the initial RAM disk found it."""

    slot: int
    part: str
    """Path of a partition without its number: /dev/mmcblk0p."""

    @property
    def other(self) -> int:
        """The slot that an update is written to."""
        return other(self.slot)

    def device(self, number: int) -> Path:
        """Path of one partition."""
        return Path(f"{self.part}{number}")


def read_where(text: str) -> Where:
    """Read `/run/keelnote-boot/where`.

    Raises
    ------
    ValueError
        If it does not name one of the two slots.
    """
    found = dict(line.split("=", 1) for line in text.splitlines() if "=" in line)
    slot = int(found.get("SLOT", "0"))
    if slot not in NAMES or "PART" not in found:
        message = f"no slot in {text!r}"
        raise ValueError(message)
    return Where(slot, found["PART"])


def other(slot: int) -> int:
    """The slot beside this one."""
    return 5 - slot


def selecting(slot: int) -> str:
    """Text of `autoboot.txt` that starts one slot, and the other once when that is asked for.

    Raspberry Pi documentation, "autoboot.txt" and "tryboot". It has the same length for both, so that it can be
    overwritten in its place: one sector of the card changes.
    """
    return f"[all]\ntryboot_a_b=1\nboot_partition={slot}\n[tryboot]\nboot_partition={other(slot)}\n"


def selected(text: str) -> int | None:
    """The slot that such a text starts; None if it is no such text."""
    return next((slot for slot in NAMES if selecting(slot) == text), None)


def for_slot(line: str, slot: int) -> str | None:
    """The kernel's arguments of a slot image, made to fit one slot; None if they name none."""
    for known, name in NAMES.items():
        told = ARGUMENT.format(slot=known, name=name)
        if told in line:
            return line.replace(told, ARGUMENT.format(slot=slot, name=NAMES[slot]))
    return None


def overwrite(path: Path, data: bytes) -> None:
    """Put bytes in the place of as many others, and wait until they are on the card.

    Raises
    ------
    ValueError
        If the file is of another length: then more than these bytes would change.
    """
    with path.open("r+b") as file:
        if len(file.read()) != len(data):
            message = f"{path.name} is of another length"
            raise ValueError(message)
        file.seek(0)
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
