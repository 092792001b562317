"""The speed of a stick, measured on a real folder and on sticks in trouble."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from hardware.drivers.stick import FolderStick
from hardware.simulated.stick import SimulatedStick
from hardware.stick_speed import PATH, measure_stick


def test_a_real_folder_is_measured_and_left_as_it_was(tmp_path: Path) -> None:
    stick = FolderStick(tmp_path / "KEELNOTE")
    stick.write_text("settings.toml", "")
    told = measure_stick(stick, time.monotonic, 0)
    assert told.trouble == ""
    assert told.bytes_per_second > 100_000
    assert stick.names("") == ("settings.toml",)


def test_what_an_earlier_test_left_is_replaced(tmp_path: Path) -> None:
    stick = SimulatedStick(tmp_path / "KEELNOTE")
    stick.write_text(PATH, "left over")
    assert measure_stick(stick, time.monotonic, 0).trouble == ""
    assert stick.names("") == ()


@pytest.mark.parametrize(
    ("trouble", "code"),
    [
        (lambda stick: stick.pull_out(), "stick-out"),
        (lambda stick: stick.make_read_only(), "stick-read-only"),
        (lambda stick: stick.fill_up(1000), "stick-full"),
        (lambda stick: stick.put_in_unknown(), "stick-unknown"),
    ],
)
def test_a_stick_in_trouble_says_which(tmp_path: Path, trouble, code: str) -> None:
    stick = SimulatedStick(tmp_path / "KEELNOTE")
    trouble(stick)
    assert measure_stick(stick, time.monotonic, 0).trouble == code


def test_a_second_stick_beside_it_is_no_trouble(tmp_path: Path) -> None:
    stick = SimulatedStick(tmp_path / "KEELNOTE")
    stick.put_in_second()
    assert measure_stick(stick, time.monotonic, 0).trouble == ""
