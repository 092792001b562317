"""Intervals are exact until someone asks for a float."""

from __future__ import annotations

import contextlib
import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.music.intervals import LARGEST_TERM, OCTAVE, SEMITONE, UNISON, Interval

ratios = st.fractions(min_value=Fraction(1, 500), max_value=500, max_denominator=500)
exponents = st.fractions(min_value=-4, max_value=4, max_denominator=12)
intervals = st.builds(
    lambda a, b, p, q: Interval.of(a) ** p * Interval.of(b) ** q, ratios, ratios, exponents, exponents
)


@settings(max_examples=40)
@given(ratios, ratios)
def test_ratios_multiply_exactly(a: Fraction, b: Fraction) -> None:
    assert (Interval.of(a) * Interval.of(b)).fraction == a * b
    assert (Interval.of(a) / Interval.of(b)).fraction == a / b


@settings(max_examples=40)
@given(intervals, intervals, intervals)
def test_stacking_is_a_commutative_group(a: Interval, b: Interval, c: Interval) -> None:
    assert a * b == b * a
    assert (a * b) * c == a * (b * c)
    assert a / a == UNISON
    assert a * UNISON == a
    assert hash(a * b) == hash(b * a)


@settings(max_examples=40)
@given(intervals, exponents, exponents)
def test_powers_add(a: Interval, p: Fraction, q: Fraction) -> None:
    assert a**p * a**q == a ** (p + q)


@settings(max_examples=40)
@given(intervals, st.integers(1, 12))
def test_a_root_undoes_a_power(a: Interval, n: int) -> None:
    assert (a ** Fraction(1, n)) ** n == a


@settings(max_examples=40)
@given(intervals, intervals)
def test_cents_add(a: Interval, b: Interval) -> None:
    assert (a * b).cents == pytest.approx(a.cents + b.cents, abs=1e-7)


@settings(max_examples=40)
@given(intervals)
def test_cents_and_ratio_agree(a: Interval) -> None:
    assert 1200 * math.log2(a.ratio) == pytest.approx(a.cents, abs=1e-8)


@settings(max_examples=40)
@given(intervals, st.integers(-6, 6))
def test_octaves_change_only_the_exponent_of_the_float(a: Interval, octaves: int) -> None:
    assert (a * OCTAVE**octaves).ratio == a.ratio * 2.0**octaves


@settings(max_examples=40)
@given(intervals)
def test_folding_lands_within_one_octave_and_moves_by_octaves(a: Interval) -> None:
    folded = a.folded()
    assert -1e-8 <= folded.cents < 1200
    assert (a / folded).cents % 1200 == pytest.approx(0, abs=1e-7) or (a / folded).cents % 1200 > 1200 - 1e-7
    assert folded.folded() == folded


@pytest.mark.parametrize("power", range(-40, 41))
def test_folding_powers_of_two_gives_the_unison(power: int) -> None:
    assert (OCTAVE**power).folded() == UNISON


def test_folding_does_not_trust_floats_next_to_an_octave() -> None:
    n = 999_999_998
    near = Interval.of(Fraction(n - 1, n)) * Interval.of(Fraction(n + 1, n))
    below = Fraction(n * n - 1, n * n)
    assert near.folded().fraction == 2 * below
    assert (near**-1).folded().fraction == 1 / below
    assert (near * OCTAVE).folded().fraction == 2 * below


@settings(max_examples=40)
@given(ratios)
def test_text_reads_back(a: Fraction) -> None:
    assert Interval.of(Interval.of(a).text) == Interval.of(a)


@settings(max_examples=40)
@given(st.decimals(min_value=-2400, max_value=2400, places=3))
def test_cents_read_back(cents: object) -> None:
    interval = Interval.of(f"{cents} cents")
    assert interval == Interval.of_cents(str(cents))
    assert Interval.of(interval.text) == interval


def test_an_irrational_interval_has_no_fraction_and_says_its_size() -> None:
    fifth = Interval.of(5) ** Fraction(1, 4)
    assert fifth.fraction is None
    assert fifth.text == "696.578428 cents"
    assert (fifth**4).fraction == 5


def test_twelve_equal_semitones_are_an_octave() -> None:
    assert SEMITONE**12 == OCTAVE
    assert SEMITONE.cents == pytest.approx(100, abs=1e-12)


def test_comma_from_fifths_and_octaves() -> None:
    comma = Interval.of("3/2") ** 12 / OCTAVE**7
    assert comma.fraction == Fraction(531441, 524288)


@pytest.mark.parametrize("bad", ["", "x", "1/0", "5/00", "1e99999999", "5/4/3", "cents", "--3", "4 5", "٣/٢"])
def test_text_that_is_no_interval_is_named(bad: str) -> None:
    with pytest.raises(OutOfRangeError, match="interval"):
        Interval.of(bad)


@pytest.mark.parametrize("bad", ["0", "-1", "0/3", Fraction(0), LARGEST_TERM + 1, Fraction(1, LARGEST_TERM + 1)])
def test_ratios_below_zero_or_of_huge_terms_are_refused(bad: str | Fraction | int) -> None:
    with pytest.raises(OutOfRangeError, match="interval"):
        Interval.of(bad)


@settings(max_examples=40)
@given(st.text(max_size=12))
def test_any_text_gives_an_interval_or_our_error(text: str) -> None:
    with contextlib.suppress(OutOfRangeError):
        assert Interval.of(text).powers is not None
