"""The first picture as the initial RAM disk sends it: by its own script, into models of both chips."""

from __future__ import annotations

import os
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
import smbus2

from firmware.screens.frame import Frame
from firmware.screens.welcome import welcome
from hardware.board.table import CHIPS, own_board
from hardware.drivers.oled import BRIGHTNESS
from hardware.drivers.oled_chip import OledPanel
from hardware.service.early_screen import lines, transfers
from hardware.simulated.oled_chip import SimulatedOledChip

SCRIPT = Path(__file__).parents[3] / "image-build/initrd/early-screen"
SENDER = '#!/bin/sh\necho "$@" >>"$(dirname "$0")/sent"\n[ "$(wc -l <"$(dirname "$0")/sent")" -le {most} ]\n'
"""In the place of i2ctransfer(8): notes what it is told to send, and fails after some."""

PORT = own_board().screen


def run(folder: Path, text: tuple[str, ...], most: int = 999, *, bus: bool = True) -> tuple[list[str], str]:
    """Have the script send these lines; what it asked for, and what it said."""
    (folder / "i2ctransfer").write_text(SENDER.format(most=most), encoding="ascii")
    (folder / "i2ctransfer").chmod(0o755)
    (folder / "screen").write_text("".join(f"{line}\n" for line in text), encoding="ascii")
    if bus:
        (folder / "i2c-1").touch()
    env = os.environ | {"PATH": f"{folder}:{os.environ['PATH']}", "KEELNOTE_LOG": str(folder / "log")}
    env |= {"KEELNOTE_SCREEN": str(folder / "screen"), "KEELNOTE_DEVICES": str(folder)}
    subprocess.run(["sh", SCRIPT], env=env, check=True, timeout=30)
    sent, log = folder / "sent", folder / "log"
    return sent.read_text("ascii").splitlines() if sent.exists() else [], log.read_text("ascii") if log.exists() else ""


def taken(chip: SimulatedOledChip, sent: list[str]) -> None:
    """Give the chip what i2ctransfer was asked to send: `-y BUS wLENGTH@ADDRESS BYTE...`."""
    for line in sent:
        yes, bus, head, *values = line.split()
        data = bytes(int(value, 16) for value in values)
        assert (yes, bus, head) == ("-y", "1", f"w{len(data)}@{chip.address:#04x}")
        chip.take(data[0], data[1:])


@pytest.mark.parametrize("chip", CHIPS)
@pytest.mark.parametrize("rotated", [False, True])
def test_the_script_brings_the_picture_onto_the_glass(chip: str, *, rotated: bool, tmp_path: Path) -> None:
    port = replace(PORT, chip=chip, rotated=rotated)
    sent, said = run(tmp_path, lines(port, welcome()))
    glass = SimulatedOledChip(chip)
    taken(glass, sent)
    shown = glass.picture()
    if rotated:
        shown = Frame(bytes(int(f"{byte:08b}"[::-1], 2) for byte in shown.bits[::-1]))
    assert shown == welcome()
    assert glass.contrast == BRIGHTNESS[2]
    assert said == "keelnote: the screen shows life\n"


@pytest.mark.parametrize("chip", CHIPS)
def test_its_bytes_are_those_of_the_driver_itself(chip: str, monkeypatch: pytest.MonkeyPatch) -> None:
    # Outside check: the same picture by the driver that the box uses later, over smbus2's own calls.
    glass, seen = SimulatedOledChip(chip), list[bytes]()
    take = glass.take

    def noted(control: int, body: bytes) -> None:
        seen.append(bytes([control, *body]))
        take(control, body)

    monkeypatch.setattr(glass, "take", noted)
    monkeypatch.setattr(smbus2, "SMBus", glass.bus)
    panel = OledPanel(replace(PORT, chip=chip))
    panel.contrast(BRIGHTNESS[2])
    panel.write(welcome())
    panel.close()
    asked, *rest = seen
    assert set(asked[1:]) == {0xE3}, "whether it answers"
    assert tuple(rest) == transfers(replace(PORT, chip=chip), welcome())


def test_a_screen_that_does_not_answer_is_left_after_the_first_try(tmp_path: Path) -> None:
    sent, said = run(tmp_path, lines(PORT, welcome()), most=0)
    assert len(sent) == 1
    assert said == "keelnote: the screen does not answer\n"


def test_without_a_bus_and_on_spi_nothing_is_sent(tmp_path: Path) -> None:
    assert run(tmp_path, lines(PORT, welcome()), bus=False) == ([], "")
    spi = lines(replace(PORT, interface="spi"), welcome())
    assert spi == ()
    assert run(tmp_path, spi) == ([], "")
