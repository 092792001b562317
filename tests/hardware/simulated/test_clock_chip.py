"""The simulated clock chip says what the driver is to read of a real one."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from hardware.drivers.clock_chip import known_date
from hardware.simulated.clock_chip import SimulatedClockChip

TODAY = dt.date(2026, 11, 25)


def test_the_date_is_known_while_the_chip_has_its_battery_and_its_wires(tmp_path: Path) -> None:
    chip = SimulatedClockChip(tmp_path / "rtc", TODAY)
    assert known_date(chip.folder) == "2026-11-25"
    chip.set(dt.date(2027, 2, 28))
    assert known_date(chip.folder) == "2027-02-28"
    chip.take_battery_out()
    assert known_date(chip.folder) == ""
    chip.set(TODAY)
    chip.pull_off()
    assert known_date(chip.folder) == ""


def test_a_box_without_a_chip_knows_none(tmp_path: Path) -> None:
    assert known_date(SimulatedClockChip(tmp_path / "rtc").folder) == ""
