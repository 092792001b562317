"""What is not yet safe: in memory, on the card, and never both lost and forgotten."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from hardware.drivers.take_backlog import Backlog
from hardware.drivers.take_spool import Spool, Where

WHERE = Where("a/take-01.flac", 1, 1, 0, 1, 0)


def sound(first: int, end: int) -> np.ndarray:
    return (np.arange(first, end) % 65_536 / 2**16).astype(np.float32)


def everything(backlog: Backlog) -> np.ndarray:
    found = [np.zeros(0, dtype=np.float32)]
    at = backlog.first
    while at < backlog.end:
        found.append(backlog.read(at, 700))
        at += len(found[-1])
    return np.concatenate(found)


def test_memory_takes_so_much_and_no_more() -> None:
    backlog = Backlog(1, memory=1000)
    assert backlog.append(sound(0, 600)) == 600
    assert backlog.append(sound(600, 1200)) == 400
    assert backlog.append(sound(1000, 1100)) == 0
    assert np.array_equal(everything(backlog), sound(0, 1000))
    assert not backlog.forget(600)
    assert backlog.append(sound(1000, 1600)) == 600
    assert np.array_equal(everything(backlog), sound(600, 1600))


def test_the_card_takes_over_what_memory_holds(tmp_path: Path) -> None:
    backlog = Backlog(1, memory=1000)
    for at in range(0, 5000, 500):
        backlog.append(sound(at, at + 500))
        if at >= 1000:
            assert backlog.spill(Spool(tmp_path), WHERE)
        else:
            backlog.forget(at)
    assert backlog.on_card
    assert backlog.in_memory == 0
    backlog.append(sound(5000, 5400))
    backlog.sync()
    assert backlog.first == 500
    assert np.array_equal(everything(backlog), sound(500, 5400))
    assert not backlog.forget(4000)
    assert np.array_equal(everything(backlog), sound(4000, 5400))
    assert backlog.forget(5000), "the card is emptied as soon as all on it is safe"
    assert list(tmp_path.iterdir()) == []
    assert np.array_equal(everything(backlog), sound(5000, 5400))


def test_a_card_without_room_leaves_the_rest_in_memory(tmp_path: Path) -> None:
    spool = Spool(tmp_path, limit=3500)
    backlog = Backlog(1, memory=2000)
    backlog.append(sound(0, 1000))
    assert backlog.spill(spool, WHERE)
    backlog.append(sound(1000, 2000))
    assert not backlog.spill(spool, WHERE)
    assert backlog.in_memory == 1000
    assert np.array_equal(everything(backlog), sound(0, 2000))
    assert not backlog.spill(None, WHERE)
    assert Backlog(1).spill(None, WHERE), "nothing is soon moved"


def test_a_card_that_can_not_be_written_is_no_harm(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    backlog = Backlog(2)
    backlog.append(np.zeros((10, 2), dtype=np.float32))
    assert not backlog.spill(Spool(tmp_path / "file"), WHERE)
    backlog.sync()
    assert backlog.read(0, 99).shape == (10, 2)
    assert backlog.read(10, 5).shape == (0, 2)
    backlog.close()


def test_what_an_earlier_run_left_is_taken_up(tmp_path: Path) -> None:
    file = Spool(tmp_path).begin(Where("a/take-01.flac", 1, 1, 500, 1, 0))
    file.write(sound(500, 1500))
    file.close()
    (kept,) = Spool(tmp_path).kept()
    backlog = Backlog(1, 500, kept=kept)
    assert (backlog.first, backlog.end) == (500, 1500)
    assert np.array_equal(everything(backlog), sound(500, 1500))
    backlog.close()
