"""What is deleted is the sound and the chapters that were meant, and nothing beside them."""

from __future__ import annotations

from pathlib import Path

import pytest

from firmware.commands import DeleteTakes
from firmware.settings import DEFAULTS, write_settings
from firmware.take_events import TakesDeleted
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.take_eraser import erase_old, erase_takes
from hardware.simulated.stick import SimulatedStick
from hardware.switch_on import switch_on

OLD, DATED, BARE = "rehearsals/0001 2026-09-01", "rehearsals/0002 2026-11-20", "rehearsals/0003"
NAMES = ("take-01.flac", "take-01-2.flac", "take-01.vtt", "take-02.flac", "log.jsonl", "notes.csv", "my take-01.flac")


@pytest.fixture
def stick(tmp_path: Path) -> SimulatedStick:
    stick = SimulatedStick(tmp_path / "KEELNOTE")
    for folder in (OLD, DATED, BARE, "rehearsals/photos", "plans"):
        for name in NAMES:
            stick.write_text(f"{folder}/{name}", "x")
    return stick


def left(stick: SimulatedStick, folder: str) -> set[str]:
    return set(NAMES) - set(stick.names(folder))


def test_one_take_goes_with_all_its_parts_and_its_chapters(stick: SimulatedStick) -> None:
    erased = erase_takes(stick, DATED, 1)
    assert erased.takes == {(DATED, 1)}
    assert left(stick, DATED) == {"take-01.flac", "take-01-2.flac", "take-01.vtt"}
    assert left(stick, OLD) == set()


def test_all_takes_go_from_every_rehearsal_and_from_nowhere_else(stick: SimulatedStick) -> None:
    assert len(erase_takes(stick).takes) == 6
    gone = {"take-01.flac", "take-01-2.flac", "take-01.vtt", "take-02.flac"}
    assert [left(stick, folder) for folder in (OLD, DATED, BARE)] == [gone] * 3
    assert left(stick, "rehearsals/photos") == left(stick, "plans") == set()


def test_old_takes_go_by_their_date_and_undated_ones_stay(stick: SimulatedStick) -> None:
    assert erase_old(stick, "", 30).takes == frozenset()
    assert erase_old(stick, "2026-11-25", 0).takes == frozenset()
    assert erase_old(stick, "2026-11-25", 85).takes == frozenset()
    assert erase_old(stick, "2026-11-25", 84).takes == {(OLD, 1), (OLD, 2)}
    assert left(stick, DATED) == left(stick, BARE) == set()


def test_a_locked_stick_keeps_its_takes_and_says_so(stick: SimulatedStick) -> None:
    stick.make_read_only()
    erased = erase_takes(stick, BARE)
    assert erased.takes == frozenset()
    assert "take-01" in erased.refused[0]


def test_a_link_is_not_followed_to_what_lies_elsewhere(stick: SimulatedStick, tmp_path: Path) -> None:
    (tmp_path / "take-01.flac").write_text("mine")
    (stick.root / "rehearsals" / "0009").symlink_to(tmp_path)
    assert not any(folder.endswith("0009") for folder, _ in erase_takes(stick).takes)
    assert (tmp_path / "take-01.flac").read_text() == "mine"


def test_the_disk_deletes_and_tells_how_many(stick: SimulatedStick) -> None:
    events = []
    disk = DiskThread(stick, events.append, lambda: 0)
    disk.submit(DeleteTakes(DATED, 2))
    disk.submit(DeleteTakes())
    disk.pump()
    assert [(one.number, one.count) for one in events if isinstance(one, TakesDeleted)] == [(2, 1), (0, 5)]


def test_the_box_deletes_old_takes_when_it_starts_and_knows_the_date(stick: SimulatedStick) -> None:
    stick.write_text("settings.toml", write_settings(DEFAULTS.put("keep_days", 60)))
    undated = switch_on(stick)
    assert undated.start.notices == ("keep-no-date",)
    assert left(stick, OLD) == set()
    found = switch_on(stick, "2026-11-25")
    assert "takes-expired" in found.start.notices
    assert any(f"{OLD}: take 1 was older than 60 days" in line for line in found.report)
    assert "take-01.flac" in left(stick, OLD)
    assert switch_on(stick, "2026-11-25").start.notices == ()
