"""Timing on the sheet."""

from __future__ import annotations

import re

from firmware.sheet.rehearsal import Rehearsal, TimedPulse
from firmware.sheet.sheet import sheet_html
from firmware.sheet.timing import timing_html

PULSE = TimedPulse(
    start_s=75.0,
    first_bar=1,
    last_bar=16,
    count=120,
    median_ms=-12.4,
    spread_ms=18.2,
    drift_percent=1.8,
    beats=(("1", -12.0, 10.0), ("3", 14.0, 20.0), ("4", -13.0, 9.0)),
    free=((9, 10, 2.5),),
)


def words(html: str) -> str:
    return re.sub(r"<[^>]+>", " ", html)


def test_nobody_played_nothing_is_said():
    assert timing_html(Rehearsal(1)) == ""
    assert "Timing" not in sheet_html(Rehearsal(1))


def test_a_pulse_is_told_in_a_row_and_a_few_words():
    text = " ".join(words(timing_html(Rehearsal(1, timings=(PULSE,)))).split())
    assert "1:15 1–16 120 12 ms early 18 ms rushing 1.8 %" in text
    assert "beat 3 lay furthest from the others: 14 ms late" in text
    assert "bars 9–10 without click: rushing 2.5 %" in text


def test_too_little_for_a_drift_is_a_dash():
    short = TimedPulse(0.0, 1, 1, 4, 0.0, 1.0, None)
    text = " ".join(words(timing_html(Rehearsal(1, timings=(short,)))).split())
    assert "on the beat 1 ms –" in text
    assert "furthest" not in text


def test_it_stands_on_the_sheet():
    assert "Timing against the pulse" in sheet_html(Rehearsal(1, timings=(PULSE,)))
