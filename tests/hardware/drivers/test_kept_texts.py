"""Lines that wait for a stick outlive the power."""

from __future__ import annotations

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.commands import AppendLine, KeepSettings, WriteText
from hardware.drivers.kept_texts import LIMIT, KeptTexts

LINE = AppendLine("rehearsals/0001/log.jsonl", '{"t": 1, "what": "♭"}')
TEXT = WriteText("rehearsals/0001/sheet.html", "<p>\n two lines")


def taken_up(folder: Path) -> tuple[KeptTexts, tuple[object, ...]]:
    """Those of a new run, and what it finds of the rehearsal and of the report."""
    kept = KeptTexts(folder)
    kept.take_up(wanted=True)
    return kept, kept.of("rehearsals/0001/take-01.flac", "report.txt")


def test_what_waits_is_found_after_the_power_was_cut_and_only_once(tmp_path: Path) -> None:
    kept = KeptTexts(tmp_path / "new")
    other = AppendLine("rehearsals/0002/log.jsonl", "x")
    report = AppendLine("report.txt", "what happened")
    for job in (LINE, TEXT, KeepSettings("a4 = 440"), other, report, LINE):
        kept.add(job)
    KeptTexts(tmp_path / "new").take_up(wanted=True)  # and the power goes again
    again, found = taken_up(tmp_path / "new")
    assert found == (LINE, TEXT, report, LINE)
    again.add(TEXT)
    third, found = taken_up(tmp_path / "new")
    assert found == (LINE, TEXT, report, LINE, TEXT), "until all of it is given, it stays"
    assert third.of("rehearsals/0002/take-01.flac", "report.txt") == (other,)
    assert list((tmp_path / "new").iterdir()) == []


def test_without_a_take_that_shows_where_they_belong_they_go(tmp_path: Path) -> None:
    KeptTexts(tmp_path).add(LINE)
    kept = KeptTexts(tmp_path)
    kept.take_up(wanted=False)
    assert kept.of("rehearsals/0001/take-01.flac", "report.txt") == ()
    assert list(tmp_path.iterdir()) == []


def test_what_came_to_the_stick_is_forgotten(tmp_path: Path) -> None:
    kept = KeptTexts(tmp_path)
    kept.clear()
    kept.add(LINE)
    kept.clear()
    assert list(tmp_path.iterdir()) == []


def test_without_a_card_or_with_one_that_refuses_nothing_happens(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    for kept in (KeptTexts(None), KeptTexts(tmp_path / "file" / "spool")):
        kept.add(LINE)
        kept.clear()
        kept.take_up(wanted=True)
        assert kept.of("a/b", "report.txt") == ()


def test_it_is_bounded(tmp_path: Path) -> None:
    kept = KeptTexts(tmp_path)
    for _ in range(3):
        kept.add(WriteText("rehearsals/0001/x", "y" * (LIMIT // 2 - 100)))
    assert len(taken_up(tmp_path)[1]) == 2


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=300))
def test_any_bytes_are_passed_over(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "texts.jsonl").write_bytes(
        data + b'\n[1]\n{"path": 3, "line": ""}\n{"path": "report.txt", "line": "y"}\n{"pa'
    )
    assert AppendLine("report.txt", "y") in taken_up(tmp_path)[1]
