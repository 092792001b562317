"""The figures that a sheet carries for later ones, and how later ones show them."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from html import escape

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.errors import BadFileError
from firmware.sheet.figures import ENOUGH, before, past_of
from firmware.sheet.past import HEAD_BYTES, Past, past_meta, read_past
from firmware.sheet.rehearsal import Rehearsal, SoundLevel, TimedPulse
from firmware.sheet.sentences import sentences
from firmware.sheet.sheet import sheet_html
from firmware.sheet.trend import trend_html

OLD = Past(40, "2026-11-18", 50, 14.0, 10, 5.0, 80, 20.0, 15.0, 84.0, 20.0, (("3", 19.0, 9), ("5", 2.0, 2)))


def test_a_sheet_carries_its_own_figures_near_its_beginning(rehearsal: Rehearsal) -> None:
    timings = (TimedPulse(0, 1, 2, 30, 10.0, 4.0, 0.0), TimedPulse(0, 1, 2, 10, -10.0, 8.0, 0.0))
    full = replace(rehearsal, timings=timings, level=SoundLevel(90.0, 84.26, 99.0, calibrated=True, dose=3.0))
    head = sheet_html(full).encode()[:HEAD_BYTES].decode("utf-8", "replace")
    read = read_past(head, "sheet.html")
    assert read == past_of(full)
    assert (read.number, read.notes, read.rested, read.off_cents) == (42, 6, 3, 7.5)
    assert (read.timed, read.late_ms, read.spread_ms, read.mean_db, read.dose) == (40, 5.0, 5.0, 84.3, 3.0)
    assert read.rested_percent == 50.0
    assert read.degree("3", ENOUGH) == 12.0
    assert read.degree("1", ENOUGH) is None


def test_an_uncalibrated_level_is_not_compared(rehearsal: Rehearsal) -> None:
    level = SoundLevel(90.0, -30.0, -10.0, calibrated=False)
    assert past_of(replace(rehearsal, level=level)).mean_db is None


@pytest.mark.parametrize("head", ["", "<html>", '<meta name="keelnote-figures" content="{">'])
def test_a_page_without_figures_says_so(head: str) -> None:
    with pytest.raises(BadFileError, match="keelnote sheet"):
        read_past(head, "rehearsals/0001/sheet.html")


@pytest.mark.parametrize(("name", "value"), [("degrees", 1), ("notes", -1), ("off_cents", "x"), ("degrees", [[1]])])
def test_a_figure_of_another_kind_is_refused(name: str, value: object) -> None:
    told = json.dumps(asdict(OLD) | {name: value})
    with pytest.raises(BadFileError):
        read_past(f'<meta name="keelnote-figures" content="{escape(told)}">', "sheet.html")


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 400), st.text(max_size=12), st.integers(0, 30))
def test_damaged_figures_are_read_whole_or_refused(at: int, text: str, length: int) -> None:
    line = past_meta(OLD)
    try:
        read = read_past(line[:at] + text + line[at + length :], "sheet.html")
    except BadFileError:
        return
    assert trend_html(Rehearsal(41, past=(read, OLD)))


def test_the_trend_shows_every_figure_that_two_rehearsals_have(rehearsal: Rehearsal) -> None:
    page = sheet_html(replace(rehearsal, past=(OLD, replace(OLD, number=41, off_cents=12.0))))
    assert "Against earlier rehearsals" in page
    assert "Off target. rehearsal 40: 14 cents; rehearsal 41: 12 cents; rehearsal 42: 8 cents" in page
    assert "trend-off" in page
    assert "trend-spread" in page
    assert "Against earlier rehearsals" not in sheet_html(rehearsal)


def test_a_change_of_what_counts_as_in_tune_is_said(rehearsal: Rehearsal) -> None:
    assert "was not the same each time" in trend_html(replace(rehearsal, past=(replace(OLD, tolerance=10.0),)))
    assert "was not the same each time" not in trend_html(replace(rehearsal, past=(OLD,)))


def test_nothing_measured_before_is_said() -> None:
    assert "No figure was measured in two rehearsals yet." in trend_html(Rehearsal(2, past=(Past(1),)))


def test_the_third_sentence_compares_and_calls_a_small_change_none(rehearsal: Rehearsal) -> None:
    text = sentences(replace(rehearsal, past=(OLD,)))[2].text
    assert (
        text
        == "Held notes lay nearer to their targets than in the rehearsal before: 8 cents off in the middle, 14 before."
    )
    same = sentences(replace(rehearsal, past=(replace(OLD, off_cents=8.0),) * 2))[2].text
    assert same.startswith("Held notes lay as near to their targets as in the 2 rehearsals before")
    further = sentences(replace(rehearsal, past=(replace(OLD, off_cents=2.0),)))[2].text
    assert further.startswith("Held notes lay further from their targets than")


def test_a_high_dose_is_spoken_of_first(rehearsal: Rehearsal) -> None:
    level = SoundLevel(90.0, 95.0, 110.0, calibrated=True, dose=120.0)
    assert "120 % of a day's recommended sound dose" in sentences(replace(rehearsal, level=level, past=(OLD,)))[2].text
    low = replace(level, dose=10.0)
    assert "dose" not in sentences(replace(rehearsal, level=low))[2].text


def test_the_figure_before_is_the_last_with_enough_notes() -> None:
    evenings = (replace(OLD, degrees=(("3", 30.0, 9),)), OLD, replace(OLD, degrees=(("3", 5.0, 2),)))
    assert before(evenings, "3", ENOUGH) == 19.0
    assert before((), "3", ENOUGH) is None
