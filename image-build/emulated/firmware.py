"""Does with the card what the board's own firmware would do, which never runs in QEMU: choose a slot, load its kernel.

By the Raspberry Pi documentation ("autoboot.txt", "tryboot"): the partition that the reboot named, if any; else
`boot_partition` of the section `[all]`, or that of `[tryboot]` in the one start after a reboot that asked for it. These
are the rules as written there, not as measured.
"""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from maker import layout

SELECTOR: Final = 1


class NoStartError(AssertionError):
    """A real board would stand still here; the text says why."""


@dataclass(frozen=True, slots=True)
class Loaded:
    """What the firmware hands to the processor."""

    slot: int
    kernel: Path
    initrd: Path
    arguments: str


def read_file(card: Path, partition: int, name: str) -> bytes:
    """Read a file of one of the card's FAT partitions."""
    done = subprocess.run(["mtype", "-i", _place(card, partition), f"::{name}"], capture_output=True, check=False)
    if done.returncode:
        raise NoStartError(f"partition {partition} has no {name}: {done.stderr.decode().strip()}")
    return done.stdout


def write_file(card: Path, partition: int, name: str, data: bytes) -> None:
    """Write a file on one of the card's FAT partitions, as a person with a card reader could."""
    subprocess.run(["mcopy", "-o", "-i", _place(card, partition), "-", f"::{name}"], input=data, check=True)


def boot_partition(text: str, *, tryboot: bool) -> int:
    """Give the partition that autoboot.txt chooses; later lines win, a section counts until the next one."""
    chosen, counts = SELECTOR, True
    for line in text.splitlines():
        word = line.split("#", 1)[0].strip()
        if word.startswith("["):
            counts = word == "[all]" or (word == "[tryboot]" and tryboot)
        elif counts and word.startswith("boot_partition="):
            chosen = int(word.removeprefix("boot_partition="))
    return chosen


def chosen(autoboot: str, argument: str) -> int:
    """Give the partition that starts after a reboot with an argument, "3" or "0 tryboot"; "" for any other start."""
    number, *words = argument.split() or ["0"]
    return int(number) or boot_partition(autoboot, tryboot="tryboot" in words)


def load(card: Path, folder: Path, argument: str = "") -> Loaded:
    """Choose a slot and take kernel, initial RAM disk and arguments out of it.

    Parameters
    ----------
    card : Path
        The card's contents.
    folder : Path
        Where kernel and initial RAM disk are put.
    argument : str
        What the reboot before was told, see `chosen`.

    Raises
    ------
    NoStartError
        If a file is absent that the firmware needs.
    """
    slot = chosen(read_file(card, SELECTOR, "autoboot.txt").decode(), argument)
    settings = dict(
        line.split("=", 1) for line in read_file(card, slot, "config.txt").decode().splitlines() if "=" in line[1:]
    )
    folder.mkdir(parents=True, exist_ok=True)
    kernel, initrd = folder / "kernel", folder / "initrd"
    kernel.write_bytes(read_file(card, slot, settings["kernel"]))
    initrd.write_bytes(read_file(card, slot, "initrd"))
    return Loaded(slot, kernel, initrd, read_file(card, slot, "cmdline.txt").decode().strip())


def _place(card: Path, partition: int) -> str:
    start = layout.PARTITIONS[partition - 1].start * layout.SECTOR
    return f"{card}@@{start}"
