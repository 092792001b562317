"""Lines that wait for a stick outlive the power."""

from __future__ import annotations

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.commands import AppendLine, KeepSettings, WriteText
from hardware.drivers.kept_texts import LIMIT, KeptTexts

LINE = AppendLine("rehearsals/0001/log.jsonl", '{"t": 1, "what": "♭"}')
TEXT = WriteText("rehearsals/0001/sheet.html", "<p>\n two lines")


def test_what_waits_is_found_after_the_power_was_cut_and_only_once(tmp_path: Path) -> None:
    kept = KeptTexts(tmp_path / "new")
    for job in (LINE, TEXT, KeepSettings("a4 = 440"), LINE):
        kept.add(job)
    again = KeptTexts(tmp_path / "new")
    assert again.before() == (LINE, TEXT, LINE)
    again.add(TEXT)
    third = KeptTexts(tmp_path / "new")
    assert third.before() == (LINE, TEXT, LINE, TEXT), "until they are let go, they stay"
    third.forget_before()
    assert KeptTexts(tmp_path / "new").before() == ()
    assert list((tmp_path / "new").iterdir()) == []


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
        assert kept.before() == ()
        kept.forget_before()


def test_it_is_bounded(tmp_path: Path) -> None:
    kept = KeptTexts(tmp_path)
    for _ in range(3):
        kept.add(WriteText("x", "y" * (LIMIT // 2 - 100)))
    assert len(KeptTexts(tmp_path).before()) == 2


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=300))
def test_any_bytes_are_passed_over(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "texts.jsonl").write_bytes(data + b'\n[1]\n{"path": 3, "line": ""}\n{"path": "x", "line": "y"}\n{"pa')
    kept = KeptTexts(tmp_path)
    assert AppendLine("x", "y") in kept.before()
    kept.forget_before()
