"""FAT32 sticks as files of this computer: made, looked into and checked by mtools and dosfstools."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

OPTIONS = "rw,noatime,nosuid,nodev,noexec,utf8=1,shortname=mixed,flush"
"""How the guest mounts a stick: names in Unicode, nothing on it is a program, and writes are not held back."""


def fsck_program() -> str:
    """Path of fsck.vfat, which is not on everybody's path."""
    found = shutil.which("fsck.vfat", path="/usr/sbin:/sbin:/usr/bin")
    assert found is not None
    return found


def make_stick(place: Path, megabytes: int = 300) -> Path:
    """An empty FAT32 file system."""
    with place.open("wb") as file:
        file.truncate(megabytes << 20)
    program = shutil.which("mkfs.vfat", path="/usr/sbin:/sbin:/usr/bin")
    assert program is not None
    subprocess.run([program, "-F", "32", "-n", "KEELNOTE", place], check=True, capture_output=True, timeout=60)
    return place


def copied(image: Path, place: Path) -> Path:
    """All that is on a stick, copied out by mtools, which reads the file system without a kernel."""
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True)
    subprocess.run(
        ["mcopy", "-s", "-n", "-Q", "-i", image, "::/*", place], check=True, capture_output=True, timeout=120
    )
    return place


@dataclass(frozen=True, slots=True)
class Checked:
    """What fsck.vfat found on a copy, and what it still finds after its automatic repair."""

    found: tuple[str, ...]
    left: str


def checked(image: Path, scratch: Path) -> Checked:
    """Check and repair a copy of a stick, as a computer does it by itself when the stick is put in (fsck.vfat -a)."""
    shutil.copyfile(image, scratch)
    before = subprocess.run([fsck_program(), "-n", scratch], capture_output=True, text=True, check=False, timeout=120)
    subprocess.run([fsck_program(), "-a", scratch], capture_output=True, check=False, timeout=120)
    after = subprocess.run([fsck_program(), "-n", scratch], capture_output=True, text=True, check=False, timeout=120)
    return Checked(_findings(before.stdout), "" if after.returncode == 0 else after.stdout)


def _findings(output: str) -> tuple[str, ...]:
    noise = re.compile(r"fsck\.fat|^\S+: \d+ files|^\s*$|Leaving filesystem|Automatically")
    return tuple(line.strip() for line in output.splitlines() if not noise.search(line))
