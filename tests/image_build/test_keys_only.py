"""The script that switches input devices without keys off, on a folder that is laid out like the kernel's."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from maker.inputs import HERE

SCRIPT = HERE / "files/usr/lib/keelnote/keys-only"

# As the kernel shows devices (capabilities/key; from memory): a keyboard; a mouse with three buttons; a tablet; the
# volume keys of a pad. Words of 64 bits, the lowest last; BTN_MOUSE is 0x110, KEY_VOLUMEUP 115
# (linux/input-event-codes.h).
KEYBOARD = "1000000000007 ff9f207ac14057ff febeffdfffefffff fffffffffffffffe"
MOUSE = "70000 0 0 0 0"
TABLET = "70000 0 0 0 0"
VOLUME = "c000000000000 0"


def device(folder: Path, *keys: str) -> tuple[Path, list[Path]]:
    """An interface with one HID device that shows itself as some inputs."""
    hid = folder / "1-1:1.0/0003:0627:0001.0001"
    inputs = [hid / f"input/input{number}" for number in range(len(keys))]
    for place, text in zip(inputs, keys, strict=True):
        (place / "capabilities").mkdir(parents=True)
        (place / "capabilities/key").write_text(f"{text}\n")
        (place / "inhibited").write_text("0\n")
    hid.mkdir(parents=True, exist_ok=True)
    (hid.parent / "authorized").write_text("1\n")
    subprocess.run(["sh", SCRIPT, f"/..{hid}"], check=True, capture_output=True)
    return hid.parent / "authorized", [place / "inhibited" for place in inputs]


@pytest.mark.parametrize(
    ("keys", "authorized", "inhibited"),
    [
        ((KEYBOARD,), "1", ["0"]),
        ((KEYBOARD, VOLUME), "1", ["0", "0"]),
        ((VOLUME,), "1", ["0"]),
        ((KEYBOARD, MOUSE), "1", ["0", "1"]),  # a presenter
        ((TABLET,), "0", ["1"]),
        ((), "0", []),  # a security key
    ],
)
def test_only_what_has_keys_is_left(
    tmp_path: Path, keys: tuple[str, ...], authorized: str, inhibited: list[str]
) -> None:
    switch, quiet = device(tmp_path, *keys)
    assert switch.read_text().strip() == authorized
    assert [place.read_text().strip() for place in quiet] == inhibited
