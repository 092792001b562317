"""When the pulse moves a chord."""

from __future__ import annotations

from fractions import Fraction

import pytest

from firmware.music.meter import parse_bars
from firmware.music.moving.when import Place, first_place, next_change
from firmware.music.program import Program
from firmware.music.tempo import Curve

# 60 quarters a minute: one beat a second.
STEADY = Program(curve=Curve(15.0))


@pytest.mark.parametrize(
    ("beats", "place"),
    [(0, Place(2, 1)), (1, Place(1, 2)), (3, Place(1, 4)), (4, Place(2, 1)), (6, Place(2, 3)), (8, Place(3, 1))],
)
def test_a_chord_ends_so_many_beats_on(beats, place):
    assert next_change(STEADY, Place(1, 1), beats) == place
    assert place.time(STEADY) == pytest.approx((place.bar - 1) * 4 + place.beat - 1)


def test_from_the_middle_of_a_bar():
    assert next_change(STEADY, Place(1, 3), 4) == Place(2, 3)
    assert next_change(STEADY, Place(1, 3), 0) == Place(2, 1)


def test_bars_of_changing_meter_count_their_own_beats():
    program = Program(bars=parse_bars("3/4 2/4"), curve=Curve(15.0))
    assert next_change(program, Place(1, 1), 4) == Place(2, 2)
    assert next_change(program, Place(1, 1), 5) == Place(3, 1)


def test_after_the_end_there_is_no_time():
    short = Program(curve=Curve(15.0), length=1)
    place = next_change(short, Place(1, 1), 6)
    assert place.time(short) is None
    assert next_change(short, place, 3).time(short) is None


def test_the_first_place_is_bar_1_even_while_it_is_counted_in():
    counted = Program(curve=Curve(15.0), count_in=2, pickup=Fraction(1, 4))
    assert first_place(counted) == Place(1, 1)
    assert first_place(counted, counted.time(Fraction(0)) + 5.0) == Place(2, 1)
    assert first_place(counted).time(counted) == pytest.approx(counted.time(Fraction(0)))
