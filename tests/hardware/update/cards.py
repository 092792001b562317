"""Partitions of a card as files, made by the tools that make them for the image."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from hardware.update.slots import ARGUMENT, NAMES, selecting

SLOT_MIB = 40
"""Small, but enough clusters for FAT32."""

made_by_tools = pytest.mark.skipif(
    not (Path("/usr/sbin/mkfs.vfat").exists() and shutil.which("mcopy")), reason="needs dosfstools and mtools"
)


def partition(path: Path, files: dict[str, bytes]) -> Path:
    """A FAT32 partition with some files in it, in this order."""
    with path.open("wb") as file:
        file.truncate(SLOT_MIB << 20)
    subprocess.run(["/usr/sbin/mkfs.vfat", "-F", "32", "-s", "1", path], check=True, capture_output=True)
    for name, data in files.items():
        subprocess.run(["mcopy", "-i", path, "-", f"::{name}"], input=data, check=True)
    return path


def slot(path: Path, mark: bytes, number: int = 2) -> Path:
    """A slot with all that the firmware loads; `mark` tells it from others."""
    line = f"quiet {ARGUMENT.format(slot=number, name=NAMES[number])}\n"
    files = {"config.txt": b"arm_64bit=1\nkernel=kernel\n", "kernel": mark * 4000, "initrd": mark * 2000}
    return partition(path, {**files, "cmdline.txt": line.encode()})


def selector(path: Path, number: int) -> Path:
    """A first partition that starts a slot."""
    return partition(path, {"bootcode.bin": b"first loader" * 500, "autoboot.txt": selecting(number).encode()})
