"""A screen that dies, comes back and hangs takes nothing from the sound of a whole box in real time."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
import smbus2

from firmware.events import KeyDown, KeyUp, PanelKey
from firmware.parts.part import Start
from firmware.screens.frame import Frame
from firmware.units import RATE
from hardware.board.table import ScreenPort
from hardware.desk import live_box
from hardware.drivers.oled import OledScreen, open_oled
from hardware.simulated.oled_chip import SimulatedOledChip
from hardware.simulated.sound_card import QuietCard
from hardware.simulated.stick import SimulatedStick

SECONDS = 3.0


@pytest.mark.parametrize("chip_name", ["ssd1306", "sh1106"])
def test_the_sound_goes_on_whatever_the_screen_does(
    chip_name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    chip = SimulatedOledChip(chip_name)
    monkeypatch.setattr(smbus2, "SMBus", chip.bus)
    screen = OledScreen(lambda: open_oled(ScreenPort(chip_name, 1, 0x3C)), retry=0.05)
    loop = live_box(SimulatedStick(tmp_path / "KEELNOTE"), screen, Start(stick=True), QuietCard())
    screen.start()
    loop.start()
    began, at = time.monotonic(), loop.now()
    key = PanelKey.DRONE
    for step in range(12):
        loop.post(KeyDown(loop.now(), key))
        loop.post(KeyUp(loop.now(), key))  # there is always something new to show
        chip.plugged = step % 4 != 1
        chip.breaks_after = 700 if step % 4 == 2 else None
        if step % 4 == 3:
            chip.reset()
        time.sleep(SECONDS / 12)
    played = (loop.now() - at) / RATE
    taken = time.monotonic() - began
    chip.plugged, chip.breaks_after = True, None
    assert screen.flush(5.0)
    seen = chip.picture()
    loop.stop()
    screen.stop()
    assert played == pytest.approx(taken, abs=0.3)
    assert (loop.dropped, loop.faults) == (0, 0)
    assert screen.shown > 4
    assert seen != Frame()
