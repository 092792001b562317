"""What is on the stick is used, what is broken there is reported, and the box starts in any case."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.settings import DEFAULTS, write_settings
from hardware.drivers.stick import FolderStick
from hardware.switch_on import REPORT, report, switch_on

PLAN = """title = "Thursday"
[[step]]
title = "Warm-up"
tonic = "F"
[[step]]
title = "Chorale"
tonic = "Eb"
"""


@pytest.fixture
def stick(tmp_path: Path) -> FolderStick:
    return FolderStick(tmp_path / "KEELNOTE")


def test_an_empty_stick_gives_the_defaults(stick: FolderStick):
    found = switch_on(stick, "2026-11-25")
    assert found.start.values == DEFAULTS
    assert found.start.folder == "rehearsals/0001 2026-11-25"
    assert found.start.stick
    assert (found.start.notices, found.report) == ((), ())


def test_no_stick_gives_the_defaults(tmp_path: Path):
    found = switch_on(FolderStick(tmp_path / "gone" / "KEELNOTE"))
    assert not found.start.stick
    assert found.start.values == DEFAULTS
    assert found.start.number == 1
    assert found.report == ()


def test_settings_and_plan_are_read(stick: FolderStick):
    stick.write_text("settings.toml", write_settings(DEFAULTS.put("a4", 442.0)))
    stick.write_text("plans/b.toml", "")
    stick.write_text("plans/a.toml", PLAN)
    stick.write_text("plans/a.txt", "not a plan")
    found = switch_on(stick)
    assert found.start.values.number("a4") == 442.0
    assert [step.title for step in found.start.plan.steps] == ["Warm-up", "Chorale"]
    assert found.report == ()


def test_a_score_is_offered_as_a_plan_and_comes_after_plans(stick: FolderStick):
    score = "<score-partwise><part id='P1'><measure number='1'/></part></score-partwise>"
    stick.write_text("plans/a ferry hymn.musicxml", score)
    start = switch_on(stick).start
    assert (start.plan.title, len(start.plan.steps)) == ("a ferry hymn", 1)
    assert (start.plans, start.plan_path) == (("plans/a ferry hymn.musicxml",), "plans/a ferry hymn.musicxml")
    stick.write_text("plans/b.toml", PLAN)
    start = switch_on(stick).start
    assert (start.plan.title, start.plan_path) == ("Thursday", "plans/b.toml")
    assert start.plans == ("plans/b.toml", "plans/a ferry hymn.musicxml")


def test_a_score_that_is_damaged_is_reported(stick: FolderStick):
    stick.write_text("plans/a.xml", "<score-partwise>")
    found = switch_on(stick)
    assert found.start.notices == ("plan-bad",)
    assert found.report[0].startswith("plans/a.xml, line 1")
    assert found.start.plan.steps == ()


def test_a_take_that_was_cut_off_is_mended_and_told(stick: FolderStick):
    take = stick.open_take("rehearsals/0001/take-01.flac")
    take.write(np.zeros(48_000, dtype=np.float32))
    place = stick.root / "rehearsals/0001/take-01.flac"
    take.sync()
    data = place.read_bytes()
    take.close()
    place.write_bytes(data)
    found = switch_on(stick)
    assert found.start.notices == ("take-mended",)
    assert found.report == ("rehearsals/0001/take-01.flac was cut off and is mended",)
    assert switch_on(stick).start.notices == ()


def test_settings_that_were_lost_give_way_to_the_ones_before(stick: FolderStick):
    stick.write_text("settings.toml.old", write_settings(DEFAULTS.put("a4", 442.0)))
    stick.write_text("settings.toml", "\0" * 512)
    found = switch_on(stick)
    assert found.start.values.number("a4") == 442.0
    assert found.start.notices == ("settings-before",)
    assert "settings.toml.old is used" in found.report[0]


def test_a_stick_of_other_peoples_files_starts_the_box_and_tells_what_is_in_its_way(stick: FolderStick, tmp_path: Path):
    (tmp_path / "secret").mkdir()
    (tmp_path / "secret" / "a.toml").write_text(PLAN)
    stick.write_text("grooves/._swing.toml", "\0\5\26\7")
    for odd in ("plans", "settings.toml", "rehearsals"):
        place = stick.root / odd
        place.symlink_to(tmp_path / "secret") if odd == "plans" else place.mkdir()
    (stick.root / "rehearsals" / "0007").write_text("a file where a folder should be")
    for name in ("Ünï♭" * 60 + ".toml", "CON.toml", "A.TOML", "x" * 251 + ".mid", "-rf .toml"):
        with contextlib.suppress(OSError):
            (stick.root / "grooves" / name).write_text("what")
    os.mkfifo(stick.root / "grooves" / "pipe.mid")
    found = switch_on(stick)
    assert found.start.plan.steps == ()
    assert "stick-odd" in found.start.notices
    assert found.start.number == 8
    text = "\n".join(found.report)
    for part in ("plans on the stick", "settings.toml on the stick", "grooves/A.TOML"):
        assert part in text
    assert "_swing" not in text


def test_a_plan_may_have_its_ending_in_capitals_and_is_no_hidden_file(stick: FolderStick):
    stick.write_text("plans/._A.TOML", "\0")
    stick.write_text("plans/A.TOML", PLAN)
    found = switch_on(stick)
    assert len(found.start.plan.steps) == 2
    assert found.report == ()


def test_the_number_is_one_more_than_the_highest(stick: FolderStick):
    for name in ("0007 2026-11-18", "0012", "notes"):
        stick.write_text(f"rehearsals/{name}/log.jsonl", "")
    assert switch_on(stick).start.number == 13


def test_a_broken_entry_falls_back_alone_and_is_reported(stick: FolderStick):
    stick.write_text("settings.toml", 'a4 = 900.0\ntempo = 72.0\ntonik = "C"\n')
    stick.write_text("plans/a.toml", PLAN + 'tuning = "sour"\n')
    found = switch_on(stick)
    assert found.start.values.number("a4") == 440.0
    assert found.start.values.number("tempo") == 72.0
    assert found.start.notices == ("setting-bad", "plan-bad")
    text = "\n".join(found.report)
    for part in ("settings.toml, line 1", "a4", "settings.toml, line 3", "tonik", "plans/a.toml, line", "sour"):
        assert part in text
    report(stick, found.report)
    assert stick.read_text(REPORT) == text + "\n"


def test_a_report_without_a_stick_does_no_harm(tmp_path: Path):
    report(FolderStick(tmp_path / "gone" / "KEELNOTE"), ("a line",))
    assert not (tmp_path / "gone").exists()


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=st.binary(max_size=200), plan=st.binary(max_size=200))
def test_any_bytes_start_the_box(tmp_path: Path, text: bytes, plan: bytes):
    root = tmp_path / "KEELNOTE"
    (root / "plans").mkdir(parents=True, exist_ok=True)
    (root / "settings.toml").write_bytes(text)
    (root / "plans" / "a.toml").write_bytes(plan)
    found = switch_on(FolderStick(root))
    assert set(found.start.values.entries) == set(DEFAULTS.entries)
