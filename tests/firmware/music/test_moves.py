"""Tempo moves as a person writes them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.music.meter import Bars, parse_bars
from firmware.music.moves import MOST_MOVES, parse_moves
from firmware.music.tempo import Curve, Law, Move, Pause, Stretch

QUARTER = Fraction(1, 4)


def read(text: str, bars: str = "4/4") -> tuple[Move, ...]:
    return parse_moves(text, parse_bars(bars), QUARTER, 92.0)


def test_a_ramp_over_beats() -> None:
    assert read("60->120 over 16 beats") == (Stretch(Fraction(4), 15.0, 30.0),)
    assert read("60 → 120 over 16 beats by time") == (Stretch(Fraction(4), 15.0, 30.0, Law.TIME),)
    assert read("60 to 120.5 over 2 bars", "3/4") == (Stretch(Fraction(3, 2), 15.0, 30.125),)


@pytest.mark.parametrize("law", ["beat", "time"])
def test_a_ramp_over_seconds_lasts_them(law: str) -> None:
    (move,) = read(f"60->120 over 10 seconds by {law}")
    assert isinstance(move, Stretch)
    assert move.seconds == pytest.approx(10.0, abs=1e-9)


def test_moves_follow_each_other() -> None:
    moves = read("2 bars, 92->46 over 4 beats; hold 2 beats, cut 1.5 s\ntempo 120, 4 beats, 2 s")
    assert moves == (
        Stretch(Fraction(2), 23.0, 23.0),
        Stretch(Fraction(1), 23.0, 11.5),
        Pause(2 * 60 / 46),
        Pause(1.5, cut=True),
        Stretch(Fraction(0), 30.0, 30.0),
        Stretch(Fraction(1), 30.0, 30.0),
        Stretch(Fraction(1), 30.0, 30.0),
    )
    assert Curve(23.0, moves).speed_at(100.0) == 30.0
    assert Curve(23.0, read("tempo 60")).time(Fraction(1, 4)) == 1.0


def test_bars_count_from_the_bar_that_is_reached() -> None:
    moves = read("4 beats, 2 bars", "4/4 3/4")
    assert [move.length for move in moves if isinstance(move, Stretch)] == [1, Fraction(7, 4)]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("faster", "move"),
        ("60->120", "move"),
        ("10->120 over 4 beats", "20 to 300"),
        ("60->301 over 4 beats", "20 to 300"),
        ("tempo 19", "20 to 300"),
        ("hold 20000 s", "0 to 10000"),
        ("20000 beats", "0 to 10000"),
        ("1.5 bars", "whole number"),
        (", ".join(["1 beat"] * (MOST_MOVES + 1)), f"at most {MOST_MOVES}"),
    ],
)
def test_what_is_no_move_is_refused(text: str, words: str) -> None:
    with pytest.raises(OutOfRangeError, match=words):
        read(text)


def test_no_words_are_no_moves() -> None:
    assert read("") == ()
    with pytest.raises(OutOfRangeError):
        parse_moves("", Bars(), QUARTER, 500.0)


@given(st.text(alphabet="0123456789.->toverbeatshlduc ,", max_size=40))
def test_any_text_is_moves_or_a_clear_error(text: str) -> None:
    try:
        moves = read(text)
    except OutOfRangeError:
        return
    assert Curve(23.0, moves).time(Fraction(1)) > 0
