"""Wishes are left as files, and the stick counts as let go only when it is no longer mounted."""

from __future__ import annotations

from pathlib import Path

import pytest

from firmware.errors import DeviceError
from hardware.drivers.requests import POWER_OFF, RELEASE, Requests, unmounting


def test_a_wish_is_a_file_until_it_is_dealt_with(tmp_path: Path) -> None:
    requests = Requests(tmp_path / "requests")
    assert not requests.pending(POWER_OFF)
    requests.ask(POWER_OFF)
    requests.ask(POWER_OFF)
    assert [one.name for one in (tmp_path / "requests").iterdir()] == ["power-off"]
    assert requests.pending(POWER_OFF)
    requests.take_back(POWER_OFF)
    requests.take_back(POWER_OFF)
    assert not requests.pending(POWER_OFF)


def test_where_nobody_could_see_it_the_person_is_told(tmp_path: Path) -> None:
    with pytest.raises(DeviceError, match="must be there"):
        Requests(tmp_path / "no" / "requests").ask(RELEASE)


@pytest.mark.parametrize(("left", "error"), [("", False), ("/dev/sda1 {} vfat rw 0 0\n", True)])
def test_the_system_unmounts_or_the_stick_is_busy(tmp_path: Path, left: str, *, error: bool) -> None:
    mounts, place = tmp_path / "mounts", tmp_path / "stick"
    mounts.write_text(f"/dev/sda1 {place} vfat rw 0 0\n")
    requests = Requests(tmp_path / "requests")

    def system(_seconds: float) -> None:
        mounts.write_text(left.format(place))
        requests.take_back(RELEASE)

    unmount = unmounting(place, requests, mounts, sleep=system)
    if error:
        with pytest.raises(DeviceError, match="still uses it"):
            unmount()
    else:
        unmount()


def test_when_nobody_answers_it_is_busy_and_the_wish_is_taken_back(tmp_path: Path) -> None:
    mounts, place = tmp_path / "mounts", tmp_path / "stick"
    mounts.write_text(f"/dev/sda1 {place} vfat rw 0 0\n")
    requests = Requests(tmp_path / "requests")
    waited: list[float] = []
    with pytest.raises(DeviceError, match="still uses it"):
        unmounting(place, requests, mounts, patience=2.0, sleep=waited.append)()
    assert sum(waited) == pytest.approx(2.0)
    assert not requests.pending(RELEASE)
