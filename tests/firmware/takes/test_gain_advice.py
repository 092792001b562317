"""Advice brings the loudest peak of the last minute to where it should lie."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.takes.gain_advice import WANTED_DB, GainWatch, advice_words
from firmware.units import RATE


def heard(peaks_db: list[float], *, clipped: bool = False, watch: GainWatch | None = None) -> GainWatch:
    """One peak a second: the loudest of its tenths, the others 20 dB lower."""
    watch = watch or GainWatch()
    begin = watch.second + 1
    for second, peak in enumerate(peaks_db, start=begin):
        for tenth in range(1, 11):
            level = peak if tenth == 4 else peak - 20
            watch = watch.heard(second * RATE + tenth * RATE // 10, level, clipped=clipped and tenth == 4)
    return watch


def test_too_soft_is_told_by_how_much_to_turn() -> None:
    watch = heard([-30.0] * 20)
    assert watch.advice_db == 21
    assert advice_words(watch.advice_db) == "21 dB up"


@pytest.mark.parametrize("peak", [-9.0, -6.0, -13.0])
def test_a_gain_that_is_about_right_gets_no_word(peak: float) -> None:
    assert heard([peak] * 30).advice_db == 0
    assert advice_words(0) == ""


def test_clipping_is_always_worth_a_word() -> None:
    watch = heard([-14.0] * 20 + [0.0], clipped=True)
    assert watch.advice_db == -9
    assert advice_words(watch.advice_db) == "9 dB down"
    assert heard([-14.0], clipped=True).advice_db == -6


def test_a_silent_room_is_no_reason_to_turn_up() -> None:
    assert heard([-70.0] * 60).advice_db == 0
    assert heard([-70.0] * 60 + [-30.0] * 9).advice_db == 0, "nine seconds are too few"
    assert heard([-70.0] * 60 + [-30.0] * 10).advice_db == 21


def test_only_the_last_minute_counts() -> None:
    loud = heard([-3.0] * 5)
    assert heard([-30.0] * 59, watch=loud).advice_db == -6
    assert heard([-30.0] * 60, watch=loud).advice_db == 21
    clipped = heard([0.0], clipped=True)
    assert heard([-9.0] * 60, watch=clipped).advice_db == 0


def test_who_follows_the_advice_gets_no_more() -> None:
    watch = heard([-30.0] * 20)
    assert watch.turned(watch.advice_db).advice_db == 0
    clipped = heard([0.0], clipped=True, watch=heard([-15.0] * 20))
    assert clipped.turned(-9.0).advice_db == 15, "what clipped says nothing about the new gain"


@given(st.lists(st.floats(-45.0, -0.1), min_size=10, max_size=60))
def test_the_loudest_peak_comes_to_lie_near_where_it_should(peaks: list[float]) -> None:
    advice = heard(peaks).advice_db
    assert abs(max(peaks) + advice - WANTED_DB) <= (1.5 if advice else 4.5) + 1e-9
