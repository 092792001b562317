"""What an update does to files; the whole of it runs in the full-system test of the image."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from hardware.update import run


def test_a_slot_is_read_back_as_far_as_its_image_goes(tmp_path: Path) -> None:
    device = tmp_path / "device"
    data = bytes(range(256)) * 9000
    device.write_bytes(data + b"more")
    assert run.sha256_of(device, len(data)) == hashlib.sha256(data).hexdigest()
    assert run.size_of(device) == len(data) + 4


def test_a_small_file_is_kept_whole(tmp_path: Path) -> None:
    path = tmp_path / "trying"
    run.keep(path, "3 abc 1.0\n")
    run.keep(path, "2 def 1.1\n")
    assert path.read_text() == "2 def 1.1\n"
    assert [entry.name for entry in tmp_path.iterdir()] == ["trying"]


def test_what_failed_is_remembered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "FAILED", tmp_path / "failed")
    assert run.failed() == ()
    run.keep(run.FAILED, "a\nb\na\n")
    assert run.failed() == ("a", "b", "a")


def test_a_line_is_told_on_the_stick_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "STICK", tmp_path)
    for line in ("First.", "First.", "Second.", "First."):
        run.tell(line)
    assert (tmp_path / "update.txt").read_text() == "First.\nSecond.\nFirst.\n"


def test_without_a_stick_a_line_goes_to_the_journal_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(run, "STICK", tmp_path / "absent")
    run.tell("First.")
    assert capsys.readouterr().out.startswith("First.\nThe stick takes no line")
