"""`keelnote sheet` on folders as people have them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.sheet.log_lines import log_line
from hardware.desk import BAD_INPUT, main
from hardware.drivers.stick import FolderStick

NOTE = {
    "start_s": 2.0,
    "degree": "3",
    "concert": "D4",
    "written": "E4",
    "median_cents": 12.0,
    "spread_cents": 1.0,
    "beats": None,
    "settled_after": None,
}


def rehearsal(root: Path, name: str, notes: int = 4) -> Path:
    folder = root / "KEELNOTE" / "rehearsals" / name
    folder.mkdir(parents=True)
    lines = [log_line(float(3 + n), "note", **NOTE) for n in range(notes)]
    (folder / "log.jsonl").write_text("\n".join(lines), encoding="utf-8")
    return folder


def test_a_whole_stick_gets_its_sheets_each_with_the_trend_before_it(tmp_path: Path, capsys) -> None:
    for name in ("0001 2026-11-20", "0002", "0010 2026-11-24"):
        rehearsal(tmp_path, name)
    (tmp_path / "KEELNOTE/rehearsals/notes of mine.txt").write_text("x")
    (tmp_path / "KEELNOTE/rehearsals/2024 photos").mkdir()
    assert main(["sheet", str(tmp_path / "KEELNOTE"), "--json"]) == 0
    told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [(one["number"], one["earlier"], one["notes"]) for one in told] == [(1, 0, 4), (2, 1, 4), (10, 2, 4)]
    page = (tmp_path / "KEELNOTE/rehearsals/0010 2026-11-24/sheet.html").read_text(encoding="utf-8")
    assert len(page.encode()) == told[2]["bytes"]
    assert "Against earlier rehearsals" in page
    assert "2026-11-24" in page
    assert list((tmp_path / "KEELNOTE/rehearsals/2024 photos").iterdir()) == []


def test_one_rehearsal_is_written_and_the_others_are_left_alone(tmp_path: Path, capsys) -> None:
    old, chosen, later = (rehearsal(tmp_path, name) for name in ("0001", "0002", "0003"))
    with (chosen / "log.jsonl").open("a") as log:
        log.write('\n{"t": 3\n')
    assert main(["sheet", str(chosen)]) == 0
    out = capsys.readouterr().out
    assert "4 held notes, 0 takes" in out
    assert "1 line of log.jsonl could not be read; all the others were used" in out
    assert not (old / "sheet.html").exists()
    assert not (later / "sheet.html").exists()
    assert "Against earlier rehearsals" in (chosen / "sheet.html").read_text(encoding="utf-8")


def test_figures_of_an_earlier_sheet_count_and_need_no_log(tmp_path: Path) -> None:
    old, chosen = rehearsal(tmp_path, "0001"), rehearsal(tmp_path, "0002")
    assert main(["sheet", str(old)]) == 0
    (old / "log.jsonl").unlink()
    assert main(["sheet", str(chosen)]) == 0
    assert "rehearsal 1: 12 cents; rehearsal 2: 12 cents" in (chosen / "sheet.html").read_text(encoding="utf-8")


def test_takes_are_found_with_their_parts_and_lengths(tmp_path: Path) -> None:
    folder = rehearsal(tmp_path, "0001")
    stopped = log_line(99.0, "take-stopped", number=1, seconds=0.75, markers=[[0.6, "Letter A"]])
    (folder / "log.jsonl").write_text(stopped, encoding="utf-8")
    soundfile.write(folder / "take-01.flac", np.zeros(24_000, np.float32), 48_000)
    soundfile.write(folder / "take-01-2.flac", np.zeros(12_000, np.float32), 48_000)
    (folder / "take-02.flac").write_bytes(b"no recording at all")
    assert main(["sheet", str(folder)]) == 0
    page = (folder / "sheet.html").read_text(encoding="utf-8")
    assert 'data-player="take-1-2" data-at="0.100"' in page
    assert 'src="take-02.flac"' in page


@pytest.mark.parametrize("name", ["missing", "0001", "words"])
def test_a_folder_without_a_rehearsal_is_refused(tmp_path: Path, name: str, capsys) -> None:
    if name != "missing":
        (tmp_path / name).mkdir()
    assert main(["sheet", str(tmp_path / name)]) == BAD_INPUT
    assert "KEELNOTE" in capsys.readouterr().err


def test_a_link_out_of_the_stick_is_not_followed(tmp_path: Path, capsys) -> None:
    folder = rehearsal(tmp_path, "0001")
    secret = tmp_path / "secret.jsonl"
    secret.write_text(log_line(1.0, "rehearsal", number=1, title="SECRET", date="", settings={}), encoding="utf-8")
    (folder / "notes.csv").symlink_to(secret)
    status = main(["sheet", str(folder)])
    assert status == BAD_INPUT or "SECRET" not in (folder / "sheet.html").read_text(encoding="utf-8")
    capsys.readouterr()


def test_the_sheet_is_replaced_whole(tmp_path: Path) -> None:
    folder = rehearsal(tmp_path, "0001")
    (folder / "sheet.html").write_text("old", encoding="utf-8")
    assert main(["sheet", str(folder)]) == 0
    first = (folder / "sheet.html").read_bytes()
    assert main(["sheet", str(folder)]) == 0
    assert (folder / "sheet.html").read_bytes() == first
    assert {one.name for one in folder.iterdir()} == {"log.jsonl", "sheet.html"}
    assert FolderStick(tmp_path / "KEELNOTE").names("rehearsals") == ("0001",)
