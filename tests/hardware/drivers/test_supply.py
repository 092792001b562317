"""The supply's flags from each place that may have them."""

from __future__ import annotations

from pathlib import Path

import pytest

from hardware.drivers.supply import FLAGS, HEAT, read_supply


def put(root: Path, path: str, text: str) -> None:
    """Write one file of a system."""
    (root / path).parent.mkdir(parents=True, exist_ok=True)
    (root / path).write_text(text)


# Bits 0 and 16 of get_throttled (Raspberry Pi documentation, "vcgencmd"): under-voltage now, and since power-on.
@pytest.mark.parametrize(
    ("flags", "now", "before"),
    [("0", False, False), ("50005", True, True), ("50000", False, True), ("40004", False, False), ("1", True, False)],
)
def test_the_kernels_flags_count_first(tmp_path: Path, flags: str, now: bool, before: bool) -> None:  # noqa: FBT001 - a row
    put(tmp_path, FLAGS, f"{flags}\n")
    put(tmp_path, HEAT, "61234\n")
    told = read_supply(5, tmp_path, lambda: "throttled=0x1\n")
    assert (told.at, told.low_now, told.low_before, told.celsius) == (5, now, before, 61.234)


def test_then_what_the_firmware_says(tmp_path: Path) -> None:
    told = read_supply(0, tmp_path, lambda: "throttled=0x10000\n")
    assert (told.low_now, told.low_before, told.celsius) == (False, True, None)


@pytest.mark.parametrize(("alarm", "low"), [("1", True), ("0", False), ("?", None)])
def test_then_the_kernels_sensor(tmp_path: Path, alarm: str, low: bool | None) -> None:  # noqa: FBT001 - a row
    put(tmp_path, "sys/class/hwmon/hwmon0/name", "cpu_thermal\n")
    put(tmp_path, "sys/class/hwmon/hwmon1/name", "rpi_volt\n")
    put(tmp_path, "sys/class/hwmon/hwmon1/in0_lcrit_alarm", f"{alarm}\n")
    assert read_supply(0, tmp_path, str).low_now is low


def test_a_computer_that_measures_nothing_says_nothing(tmp_path: Path) -> None:
    told = read_supply(0, tmp_path, lambda: "VCHI initialization failed")
    assert (told.low_now, told.low_before, told.celsius) == (None, None, None)
