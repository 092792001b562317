"""Patterns of letters, and swing."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.music.groove import STROKES, groove_of, swing

F = Fraction


def test_letters_become_strokes() -> None:
    groove = groove_of("x", "X", "3/4", 2, (("bass", "X. .. o."), ("snare", ".. x. .. | .. .x ..")))
    assert groove.bars[0] == groove.strokes(1) == groove.strokes(3)
    assert [(s.place, s.sound, s.weight) for s in groove.strokes(2)] == [
        (F(0), "bass", 1.0),
        (F(3, 8), "snare", 0.7),
        (F(1, 2), "bass", 0.4),
    ]


def test_a_compound_beat_is_divided_into_its_steps() -> None:
    groove = groove_of("x", "X", "6/8", 3, (("bass", "..X x.."),))
    assert [stroke.place for stroke in groove.strokes(1)] == [F(1, 4), F(3, 8)]


@pytest.mark.parametrize(
    "lines",
    [
        (),
        (("bass", ""),),
        (("bass", "x"),),
        (("bass", "xxq."),),
        (("bass", "x..." * 65),),
        (("bass", "x..." * 3), ("snare", "x..." * 2)),
    ],
)
def test_a_broken_pattern_is_refused(lines: tuple[tuple[str, str], ...]) -> None:
    with pytest.raises(OutOfRangeError):
        groove_of("x", "X", "4/4", 1, lines)


@pytest.mark.parametrize(("ratio", "second"), [(1, "1/8"), ("3/2", "3/20"), (2, "1/6"), (3, "3/16")])
def test_the_second_of_two_eighths_comes_later(ratio: int | str, second: str) -> None:
    assert swing(F(1, 8), F(1, 4), F(ratio)) == F(second)
    assert swing(F(5, 8), F(1, 4), F(ratio)) == F(1, 2) + F(second)
    assert swing(F(1, 4), F(1, 4), F(ratio)) == F(1, 4)


@given(st.fractions(0, 4), st.fractions(0, 4), st.fractions(1, 3))
def test_swing_keeps_the_order_and_the_beats(one: Fraction, other: Fraction, ratio: Fraction) -> None:
    pair = F(1, 4)
    low, high = sorted((one, other))
    assert swing(low, pair, ratio) <= swing(high, pair, ratio)
    assert swing(low, pair, ratio) // pair == low // pair
    assert swing(low, F(0), ratio) == low


@given(st.text(alphabet="".join(STROKES) + ". |", min_size=1, max_size=60))
def test_any_letters_are_a_pattern_or_a_clear_error(letters: str) -> None:
    try:
        groove = groove_of("x", "X", "2/4", 2, (("bass", letters),))
    except OutOfRangeError:
        return
    assert sum(len(bar) for bar in groove.bars) == sum(letter in STROKES for letter in letters)
