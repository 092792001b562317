"""The image on QEMU's Raspberry Pi 3B, with the device tree of its slot: up to the service, number pad and stick."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from emulated import firmware
from emulated.board import READY
from emulated.pi3 import TREE, started
from emulated.sticks import make_stick, read

PATIENCE = 1500.0
"""Four emulated processors on a few real ones: minutes, and more on a busy machine."""

# A start may take longer here than a board is given for it, and a beat may come later.
LIMITS = "[Service]\nTimeoutStartSec=900s\nWatchdogSec=120s\n"


@pytest.mark.nightly
@pytest.mark.timeout(3600)
def test_it_starts_on_a_raspberry_pi_3b_with_number_pad_and_stick(card: Path, folder: Path) -> None:
    stick = make_stick(folder / "stick.img", megabytes=64)
    more = ("-device", "usb-kbd", "-drive", f"file={stick},if=none,id=stick,format=raw", "-device")
    with started(card, folder, (*more, "usb-storage,drive=stick"), {"unit-dropin.keelnote.service": LIMITS}) as console:
        began = time.monotonic()

        def said(what: str, times: int = 1) -> bool:
            return console.read_text(encoding="utf-8", errors="replace").count(what) >= times

        def report() -> str:
            return (read(stick, "KEELNOTE/report.txt") or b"").decode()

        while not (said(READY) and "Plugged in" in report()):
            assert time.monotonic() - began < PATIENCE, console.read_text(encoding="utf-8", errors="replace")[-3000:]
            time.sleep(1)
        (folder / "seconds.txt").write_text(f"{time.monotonic() - began:.0f}\n", encoding="ascii")
        (folder / "report.txt").write_text(report(), encoding="utf-8")
    assert said("Raspberry Pi 3 Model B")
    assert "number pad: QEMU QEMU USB Keyboard" in report()
    assert firmware.read_file(card, 2, TREE)
    card.unlink()
