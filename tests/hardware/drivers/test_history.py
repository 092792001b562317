"""Earlier rehearsals on a stick."""

from __future__ import annotations

from pathlib import Path

from firmware.sheet.past import Past
from firmware.sheet.rehearsal import Rehearsal
from firmware.sheet.sheet import sheet_html
from hardware.drivers.history import MOST, earlier, figures, files_of, numbered
from hardware.drivers.stick import FolderStick
from hardware.simulated.stick import SimulatedStick
from hardware.switch_on import switch_on


def stick_with(root: Path, *numbers: int) -> FolderStick:
    stick = FolderStick(root / "KEELNOTE")
    for number in numbers:
        stick.write_text(f"rehearsals/{number:04d}/sheet.html", sheet_html(Rehearsal(number)))
    return stick


def test_folders_are_ordered_by_number_and_odd_names_passed_over() -> None:
    names = ("0010", "0009 2026-11-01", "mine", "0009", "12345678901", "2 old")
    assert numbered(names) == ((2, "2 old"), (9, "0009 2026-11-01"), (10, "0010"))


def test_the_latest_before_this_one_are_read_the_oldest_first(tmp_path: Path) -> None:
    stick = stick_with(tmp_path, *range(1, 20))
    assert [one.number for one in earlier(stick, "rehearsals", 18)] == list(range(18 - MOST, 18))


def test_what_cannot_be_read_is_left_out(tmp_path: Path) -> None:
    stick = stick_with(tmp_path, 1, 3)
    stick.write_text("rehearsals/0002/sheet.html", "<html>something else</html>")
    (tmp_path / "KEELNOTE/rehearsals/0004/sheet.html").mkdir(parents=True)
    assert [one.number for one in earlier(stick, "rehearsals", 9)] == [1, 3]
    assert figures(stick, "rehearsals/0007") is None


def test_without_a_stick_there_is_no_history(tmp_path: Path) -> None:
    stick = SimulatedStick(tmp_path / "KEELNOTE")
    stick.write_text("rehearsals/0001/sheet.html", sheet_html(Rehearsal(1)))
    stick.pull_out()
    assert earlier(stick, "rehearsals", 2) == ()
    assert switch_on(stick).start.past == ()


def test_the_box_knows_them_when_it_is_switched_on(tmp_path: Path) -> None:
    start = switch_on(stick_with(tmp_path, 1, 2)).start
    assert (start.number, start.past) == (3, (Past(1), Past(2)))


def test_files_of_an_empty_folder(tmp_path: Path) -> None:
    stick = stick_with(tmp_path, 1)
    files = files_of(stick, stick.root, "rehearsals/0001")
    assert (files.folder, files.log, files.notes, files.chapters, files.takes) == ("0001", None, None, {}, {})
    stick.write_text("rehearsals/0001/take-03.vtt", "WEBVTT\n")
    assert files_of(stick, stick.root, "rehearsals/0001").chapters == {3: "WEBVTT\n"}
