"""A real FAT32 stick on a real kernel: the contract of sticks, and what people do to one."""

from __future__ import annotations

import os
import re
import signal
import sys
from pathlib import Path

import numpy as np
import pytest

from hardware.drivers.stick import FolderStick
from tests.guest.box import sequence
from tests.guest.fat import OPTIONS, copied, make_stick
from tests.guest.machine import Guest
from tests.guest.sticks import hear, mount, plug_in, start_box

RATE = 48_000

TROUBLE = """
import sys, time
from pathlib import Path
from hardware.drivers.stick import FolderStick
stick = FolderStick(Path(sys.argv[1]) / "KEELNOTE", mounted=True)
for _ in range(5):
    trouble = stick.trouble()
print(trouble)
try:
    stick.write_text("x", "y")
    print("written")
except OSError as error:
    print(error.message)
"""
"""Says what the real driver sees, and whether it can write."""


def trouble(guest: Guest, place: str) -> list[str]:
    return guest.run(sys.executable, "-c", TROUBLE, place, seconds=120).splitlines()


def end(guest: Guest, box) -> list[str]:
    """End a box in order; all that it said."""
    guest.send_signal(box, signal.SIGTERM)
    assert guest.wait(box, 240).code == 0, box.lines[-20:]
    return box.lines


def faults(lines: list[str]) -> list[str]:
    return [match[1] for line in lines if (match := re.match(r"event Fault\(.*message='([\w-]+)'", line))]


def recorded(image: Path, scratch: Path, folder: str) -> np.ndarray:
    """All parts of take 1, copied out of the image; it must be the sequence that the microphone heard, from 0 on."""
    stick = FolderStick(copied(image, scratch) / "KEELNOTE")
    sound = stick.read_take(f"{folder}/take-01.flac", 0, 10**9)
    assert np.array_equal(sound, sequence(0, len(sound))), "a sample is missing, doubled or not what was heard"
    return sound


@pytest.mark.timeout(600)
def test_the_contract_of_sticks_holds_on_fat32(guest: Guest, tmp_path: Path) -> None:
    device = plug_in(guest, make_stick(tmp_path / "stick.img"), "contract")
    mount(guest, device, "/contract")
    out = guest.run(
        sys.executable,
        *("-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--basetemp=/contract/tests"),
        *("--timeout=500", "tests/contract/test_stick.py"),
        seconds=500,
        environment={"CI": "true", "HYPOTHESIS_STORAGE_DIRECTORY": "/run/hypothesis"},
    )
    assert re.search(r"\d+ passed, 2 skipped", out), out[-2000:]
    guest.run("umount", "/contract")
    guest.yank("contract")


@pytest.mark.timeout(600)
def test_a_stick_that_is_yanked_in_mid_take_and_comes_back_has_every_sample(guest: Guest, tmp_path: Path) -> None:
    image = make_stick(tmp_path / "stick.img")
    mount(guest, plug_in(guest, image, "yanked"), "/yanked")
    box, folder = start_box(guest, "/yanked")
    heard = hear(guest, box, 3 * RATE)
    guest.yank("yanked")
    guest.wait_for(box, "event StickChanged(at=", 60)
    hear(guest, box, heard + 3 * RATE)
    mount(guest, plug_in(guest, image, "back"), "/yanked")
    hear(guest, box, heard + 7 * RATE)
    lines = end(guest, box)
    guest.run("umount", "/yanked")
    guest.yank("back")
    stopped = int(next(line for line in lines if line.startswith("stopped")).split()[1])
    assert len(recorded(image, tmp_path / "copy", folder)) == stopped
    assert "take-joined" in faults(lines)


@pytest.mark.timeout(600)
def test_a_full_stick_ends_the_take_cleanly_and_nothing_is_overwritten(guest: Guest, tmp_path: Path) -> None:
    image = make_stick(tmp_path / "stick.img", 40)
    mount(guest, plug_in(guest, image, "full"), "/full")
    free = int(guest.run("sh", "-c", "df --output=avail -B1 /full | tail -1"))
    guest.run("sh", "-c", f"head -c {free - 700_000} /dev/urandom > /full/holiday.mov; sync", seconds=120)
    digest = guest.run("sha256sum", "/full/holiday.mov", seconds=120).split()[0]
    box, folder = start_box(guest, "/full")
    hear(guest, box, 12 * RATE)
    lines = end(guest, box)
    assert "stick-full" in faults(lines)
    assert guest.run("sha256sum", "/full/holiday.mov", seconds=120).split()[0] == digest
    guest.run("umount", "/full")
    guest.yank("full")
    assert len(recorded(image, tmp_path / "copy", folder)) > 2 * RATE


@pytest.mark.timeout(300)
def test_a_locked_an_unknown_and_a_second_stick_are_told_apart(guest: Guest, tmp_path: Path) -> None:
    assert trouble(guest, "/none") == ["stick-out", "stick-out"]
    unknown = tmp_path / "unknown.img"
    unknown.write_bytes(os.urandom(1 << 20))
    plug_in(guest, unknown, "unknown")
    assert trouble(guest, "/none") == ["stick-unknown", "stick-out"]
    guest.yank("unknown")
    image = make_stick(tmp_path / "locked.img")
    mount(guest, plug_in(guest, image, "locked", locked=True), "/locked", OPTIONS.replace("rw", "ro", 1))
    assert trouble(guest, "/locked") == ["stick-read-only", "stick-read-only"]
    guest.run("umount", "/locked")
    guest.yank("locked")
    mount(guest, plug_in(guest, make_stick(tmp_path / "one.img"), "one"), "/one")
    assert trouble(guest, "/one") == ["", "written"]
    plug_in(guest, make_stick(tmp_path / "two.img"), "two")
    assert trouble(guest, "/one") == ["stick-two", "written"]
    guest.yank("two")
    guest.run("umount", "/one")
    guest.yank("one")
