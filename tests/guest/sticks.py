"""Sticks in a guest: plugged in, mounted as the box mounts them, and mounted anew when they come back."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from tests.guest.fat import OPTIONS
from tests.guest.machine import Guest, Job

LIST = "ls /dev/sd? 2>/dev/null || true"


def plug_in(guest: Guest, image: Path, name: str, *, locked: bool = False) -> str:
    """Put a stick in; the name of its device when the kernel has found it."""
    before = set(guest.run("sh", "-c", LIST).split())
    guest.plug(image, name, locked=locked)
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        new = set(guest.run("sh", "-c", LIST).split()) - before
        if new:
            return new.pop()
        time.sleep(0.2)
    raise AssertionError(f"the guest does not see {name}")


def mount(guest: Guest, device: str, place: str, options: str = OPTIONS) -> None:
    """Mount a stick; one that is gone but still mounted there makes room."""
    command = f"mkdir -p {place}; umount -l {place} 2>/dev/null; mount -t vfat -o {options} {device} {place}"
    guest.run("sh", "-c", command)


def start_box(guest: Guest, place: str, mode: str = "record") -> tuple[Job, str]:
    """Start a box on a mounted stick; its job, and the folder of its rehearsal."""
    box = guest.start(sys.executable, "tests/guest/box.py", place, mode)
    return box, guest.wait_for(box, "folder ", 240).removeprefix("folder ")


def last_heard(lines: list[str]) -> int:
    """Samples that the box had heard when it last said so."""
    return next((int(line.split()[1]) for line in reversed(lines) if line.startswith("heard ")), 0)


def hear(guest: Guest, box: Job, samples: int, seconds: float = 240.0) -> int:
    """Wait until a box has heard so many samples; how many it says it has."""
    deadline = time.monotonic() + seconds
    while last_heard(box.lines) < samples:
        assert time.monotonic() < deadline, box.lines[-20:]
        guest.wait_next(box)
    return last_heard(box.lines)
