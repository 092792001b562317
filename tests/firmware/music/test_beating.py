"""Beats of a mistuned interval: the difference of the partials that should coincide."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.music.beating import HIGHEST_PARTIAL, beats_of
from firmware.music.intervals import UNISON, Interval
from firmware.units import ratio_of


@given(st.floats(30, 1000), st.integers(1, HIGHEST_PARTIAL), st.integers(1, HIGHEST_PARTIAL), st.floats(-60, 60))
def test_beats_are_the_difference_of_the_coinciding_partials(root: float, up: int, down: int, cents: float):
    interval = Interval.of(f"{up}/{down}")
    just = interval.fraction
    assert just is not None
    upper = root * float(just) * ratio_of(cents)
    expected = abs(just.denominator * upper - just.numerator * root)
    assert beats_of(root, interval, cents) == pytest.approx(expected, abs=1e-6)


def test_a_just_interval_does_not_beat():
    assert beats_of(220.0, Interval.of("5/4"), 0.0) == 0.0
    assert beats_of(220.0, UNISON, 0.0) == 0.0


def test_intervals_whose_partials_do_not_meet_have_no_beats():
    assert beats_of(220.0, Interval.of("45/32"), 5.0) is None
    assert beats_of(220.0, Interval.of_cents(400), 5.0) is None
