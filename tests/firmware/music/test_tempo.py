"""Tempo curves: closed forms, their inverses, holds and cut-offs."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.music.tempo import Curve, Law, Pause, Stretch, length_of, seconds_in, speed_in, way_in

SAMPLE = 1 / 48_000
speeds = st.floats(1.0, 300.0)
laws = st.sampled_from(Law)
lengths = st.fractions(Fraction(1, 16), 200, max_denominator=64)
stretches = st.builds(Stretch, lengths, speeds, speeds, laws)
moves = st.lists(stretches | st.builds(Pause, st.floats(0.0, 20.0)), max_size=12).map(tuple)


def test_total_times_are_the_closed_forms() -> None:
    """60 to 120 quarters a minute over 16 quarters: 16 ln 2 s per beat, 2 * 16 * 60 / 180 s per time."""
    sixteen = Fraction(16, 4)
    assert Stretch(sixteen, 15.0, 30.0).seconds == pytest.approx(16 * math.log(2), abs=SAMPLE / 100)
    assert Stretch(sixteen, 15.0, 30.0, Law.TIME).seconds == pytest.approx(32 / 3, abs=SAMPLE / 100)
    assert Stretch(sixteen, 15.0, 15.0).seconds == 16.0


@given(stretches)
def test_a_ramp_begins_and_ends_at_its_speeds(stretch: Stretch) -> None:
    assert speed_in(stretch, 0.0) == pytest.approx(stretch.start)
    assert speed_in(stretch, float(stretch.length)) == pytest.approx(stretch.end)
    assert seconds_in(stretch, Fraction(0)) == 0.0


@given(stretches, st.floats(0.0, 1.0))
def test_the_way_is_the_inverse_of_the_time(stretch: Stretch, part: float) -> None:
    seconds = stretch.seconds * part
    way = way_in(stretch, seconds)
    assert seconds_in(stretch, Fraction(way)) == pytest.approx(seconds, abs=1e-8, rel=1e-10)


@given(stretches)
def test_a_ramp_over_seconds_lasts_them(stretch: Stretch) -> None:
    length = length_of(7.5, stretch.start, stretch.end, stretch.law)
    assert Stretch(length, stretch.start, stretch.end, stretch.law).seconds == pytest.approx(7.5, abs=1e-9)


@given(speeds, laws, lengths)
def test_the_slightest_ramp_loses_no_digits(speed: float, law: Law, length: Fraction) -> None:
    steady = Stretch(length, speed, speed).seconds
    assert Stretch(length, speed, speed * (1 + 1e-13), law).seconds == pytest.approx(steady, rel=1e-12)


@settings(deadline=None)
@given(speeds, moves, st.lists(st.floats(-10.0, 1000.0), min_size=2, max_size=8))
def test_time_never_runs_backwards_and_positions_come_back(
    speed: float, moved: tuple[Stretch | Pause, ...], places: list[float]
) -> None:
    curve = Curve(speed, moved)
    times = [curve.time(Fraction(place)) for place in sorted(places)]
    assert times == sorted(times)
    for place, time in zip(sorted(places), times, strict=True):
        assert curve.position(time) == pytest.approx(place, abs=1e-7)


def test_a_hold_stops_the_music_and_the_next_note_waits() -> None:
    curve = Curve(15.0, (Stretch(Fraction(1), 15.0, 15.0), Pause(2.0), Pause(0.5, cut=True)))
    assert curve.time(Fraction(1)) == 4.0
    assert curve.time(Fraction(1) + Fraction(1, 4)) == 7.5
    assert [curve.position(time) for time in (3.0, 4.0, 5.0, 6.4, 7.5)] == [0.75, 1.0, 1.0, 1.0, 1.25]
    assert [(place, time, pause.cut) for place, time, pause in curve.pauses] == [(1, 4.0, False), (1, 6.0, True)]


def test_before_the_beginning_the_first_speed_holds() -> None:
    curve = Curve(23.0, (Stretch(Fraction(2), 30.0, 60.0),))
    assert curve.time(Fraction(-1)) == -2.0
    assert curve.position(-2.0) == -1.0
    assert curve.speed_at(-1.0) == 30.0
    assert curve.speed_at(1.0) == 45.0
    assert curve.speed_at(5.0) == 60.0


def test_a_ramp_is_found_while_it_lasts() -> None:
    ramp = Stretch(Fraction(2), 30.0, 60.0)
    curve = Curve(30.0, (Stretch(Fraction(1), 30.0, 30.0), ramp))
    assert [curve.ramp_at(place) for place in (-1.0, 0.5, 1.0, 2.9, 3.0)] == [None, None, (1, ramp), (1, ramp), None]
    assert curve.moves_in(Fraction(1, 2), Fraction(2)) == ((30.0, ramp),)
    assert [speed for speed, _ in curve.moves_in(Fraction(0), Fraction(9))] == [30.0, 30.0]


def test_many_stretches_lose_nothing() -> None:
    """A hundred thousand stretches of 0.1 whole notes at 7 a minute: the exact sum, to a hundredth of a sample."""
    curve = Curve(7.0, (Stretch(Fraction(1, 10), 7.0, 7.0),) * 20_000)
    assert curve.time(Fraction(2000)) == pytest.approx(2000 * 60 / 7, abs=SAMPLE / 100)
