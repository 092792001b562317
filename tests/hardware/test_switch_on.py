"""What is on the stick is used, what is broken there is reported, and the box starts in any case."""

from __future__ import annotations

from pathlib import Path

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
