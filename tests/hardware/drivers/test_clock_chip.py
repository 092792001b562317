"""A date is believed when a clock chip has a sensible one."""

from __future__ import annotations

from pathlib import Path

import pytest

from hardware.drivers.clock_chip import known_date


@pytest.mark.parametrize(
    ("told", "date"),
    [
        ("1795564800\n", "2026-11-25"),  # `date -u -d 2026-11-25 +%s`
        ("1795651199\n", "2026-11-25"),
        ("1795651200\n", "2026-11-26"),
        ("0\n", ""),
        ("1700000000", ""),
        ("99999999999999999999", ""),
        ("noon", ""),
    ],
)
def test_a_sensible_date_is_known(tmp_path: Path, told: str, date: str) -> None:
    (tmp_path / "rtc0").mkdir()
    (tmp_path / "rtc0" / "since_epoch").write_text(told)
    assert known_date(tmp_path) == date


def test_without_a_chip_none_is_known_and_an_empty_battery_gives_way_to_another_chip(tmp_path: Path) -> None:
    assert known_date(tmp_path / "none") == ""
    for number, told in enumerate(("17", "1795564800")):
        (tmp_path / f"rtc{number}").mkdir()
        (tmp_path / f"rtc{number}" / "since_epoch").write_text(told)
    assert known_date(tmp_path) == "2026-11-25"
