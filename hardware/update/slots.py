"""The two slots of the card, and the file by which the board's firmware chooses one (`autoboot.txt`)."""

from __future__ import annotations

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


def reboot_argument(slot: int, boards: str) -> str:
    """What a reboot is told so that the next start, and only that, is from a slot.

    The firmware of the Pi 4 takes the section `[tryboot]` of `autoboot.txt` (Raspberry Pi documentation, that page).
    The documentation says so of all models, but on a Zero 2 W others saw the firmware take no notice, and saw it start
    from the partition whose number it was told ("boot_partition" on that page); so the older boards are told that.

    Parameters
    ----------
    slot : int
        Number of its partition.
    boards : str
        What the board's device tree says that it is compatible with.
    """
    return "0 tryboot" if "bcm2711" in boards else str(slot)
