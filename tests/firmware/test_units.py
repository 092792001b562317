"""Cents, decibels and samples against their definitions and handbook values."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.units import RATE, cents_of, db_of, gain_of, ratio_of, samples_of, seconds_of


def test_an_octave_is_1200_cents_and_a_just_fifth_702() -> None:
    # Ellis in Helmholtz, On the Sensations of Tone, app. XX: the just fifth 3:2 is 701.955 cents.
    assert cents_of(2) == pytest.approx(1200)
    assert cents_of(Fraction(3, 2)) == pytest.approx(701.955, abs=5e-4)


@given(st.floats(-6000, 6000))
def test_ratio_and_cents_undo_each_other(cents: float) -> None:
    assert cents_of(ratio_of(cents)) == pytest.approx(cents, abs=1e-9)


@pytest.mark.parametrize("ratio", [0, -1.5, Fraction(0)])
def test_a_ratio_that_is_not_above_zero_is_refused(ratio: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        cents_of(ratio)


def test_twenty_decibels_are_a_factor_of_ten_and_six_about_two() -> None:
    assert gain_of(20) == pytest.approx(10)
    assert gain_of(-6.0206) == pytest.approx(0.5, abs=1e-5)
    assert db_of(0.1) == pytest.approx(-20)


def test_silence_is_minus_infinity_decibels() -> None:
    assert db_of(0.0) == -math.inf
    assert db_of(-1.0) == -math.inf


@given(st.floats(-120, 40))
def test_gain_and_decibels_undo_each_other(level: float) -> None:
    assert db_of(gain_of(level)) == pytest.approx(level, abs=1e-9)


@given(st.integers(0, 10**9), st.sampled_from([RATE, 44_100, 8_000]))
def test_samples_and_seconds_undo_each_other(samples: int, rate: int) -> None:
    assert samples_of(seconds_of(samples, rate), rate) == samples


def test_samples_are_rounded_to_the_nearest() -> None:
    assert samples_of(0.1) == 4800
    assert samples_of(1.6 / RATE) == 2
