"""Logs of writes in the kernel's format (admin-guide/device-mapper/log-writes), and what a power cut leaves by them."""

from __future__ import annotations

import random
import struct
from pathlib import Path

import pytest

from emulated.write_log import FLUSH, SECTOR, after_cut, flushed, writes_of

MAGIC = 0x6A736677736872  # WRITE_LOG_MAGIC of drivers/md/dm-log-writes.c


def log_of(path: Path, *entries: tuple[int, bytes, int]) -> Path:
    """A log of entries: first sector, data, flags; its head says that there are none, as after a kill."""
    data = struct.pack("<QQQI", MAGIC, 1, 0, SECTOR).ljust(SECTOR, b"\0")
    for sector, content, flags in entries:
        data += struct.pack("<QQQQ", sector, len(content) // SECTOR, flags, 0).ljust(SECTOR, b"\0") + content
    path.write_bytes(data)
    return path


def block(letter: str, sectors: int = 1) -> bytes:
    return letter.encode() * (sectors * SECTOR)


@pytest.fixture
def base(tmp_path: Path) -> Path:
    path = tmp_path / "base"
    path.write_bytes(block(".", 8))
    return path


def letters(disk: Path) -> str:
    """The first letter of each sector."""
    return disk.read_bytes()[::SECTOR].decode()


def test_writes_are_replayed_in_order_up_to_any_of_them(tmp_path: Path, base: Path) -> None:
    log = log_of(tmp_path / "log", (0, block("a", 2), 0), (1, block("b"), 0), (0, b"", FLUSH), (5, block("c"), 0))
    writes = writes_of(log)
    assert [(one.sector, one.sectors, one.flags) for one in writes] == [(0, 2, 0), (1, 1, 0), (0, 0, FLUSH), (5, 1, 0)]
    assert flushed(writes) == 3
    states = [letters(after_cut(base, log, writes[:number], tmp_path / "disk")) for number in range(5)]
    assert states == ["........", "aa......", "ab......", "ab......", "ab...c.."]


def test_the_entry_that_a_kill_came_upon_does_not_count(tmp_path: Path) -> None:
    log = log_of(tmp_path / "log", (0, block("a"), 0), (3, block("b", 2), 0))
    log.write_bytes(log.read_bytes()[:-1])
    assert len(writes_of(log)) == 1


def test_what_was_flushed_is_always_there_and_the_rest_may_be_in_any_state(tmp_path: Path, base: Path) -> None:
    log = log_of(tmp_path / "log", (0, block("s"), 0), (0, b"", FLUSH), (2, block("t", 3), 0), (6, block("u"), 0))
    writes = writes_of(log)
    seen = {letters(after_cut(base, log, writes, tmp_path / "disk", random.Random(n))) for n in range(60)}  # noqa: S311 - no secret
    assert all(state.startswith("s.") for state in seen)
    # Nothing; the one without the other, either way; the longer one only with its first sectors.
    assert {"s.......", "s.....u.", "s.t.....", "s.tt....", "s.t...u.", "s.tt..u."} == seen


def test_another_file_is_no_log(tmp_path: Path) -> None:
    (tmp_path / "log").write_bytes(bytes(2 * SECTOR))
    with pytest.raises(ValueError, match="is no log of writes"):
        writes_of(tmp_path / "log")
