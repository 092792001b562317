"""Ways to make a tuning, the user's own among them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.music.harmony import Harmony, tones_of
from firmware.music.intervals import OCTAVE, SEMITONE, UNISON, Interval
from firmware.music.keys import key_of
from firmware.music.notes import parse_note
from firmware.music.tuning import FIFTH, circle, offset, own_tuning

C = key_of("C", "major")


def test_own_tuning_takes_ratios_cents_and_intervals_and_fills_up_with_equal() -> None:
    mine = own_tuning("mine", {4: "5/4", 7: Interval.of("3/2"), 10: Fraction(7, 4), 3: "316 cents"}, title="Mine")
    assert mine.interval(C, 4).fraction == Fraction(5, 4)
    assert mine.interval(C, 10).fraction == Fraction(7, 4)
    assert mine.interval(C, 3) == Interval.of_cents(316)
    assert mine.interval(C, 5) == SEMITONE**5
    assert mine.interval(C, 19).fraction == 3
    assert mine.interval(C, -5).fraction == Fraction(3, 4)
    assert (mine.title, mine.fixed) == ("Mine", False)


def test_own_tuning_can_belong_to_the_note_names() -> None:
    mine = own_tuning("mine", {9: "5/3", 7: "3/2"}, fixed=True)
    assert mine.from_a4(parse_note("A4")) == UNISON
    assert mine.from_a4(parse_note("C4")).fraction == Fraction(3, 5)
    assert mine.from_a4(parse_note("C5")).fraction == Fraction(6, 5)
    assert mine.interval(key_of("G"), 5).fraction == Fraction(4, 3)
    assert mine.interval(key_of("G"), 2).fraction == Fraction(10, 9)


def test_a_harmony_sounds_the_users_own_tuning() -> None:
    mine = own_tuning("mine", {4: offset(4, "-13.7"), 7: offset(7, 2)})
    tones = tones_of(Harmony(key_of("D"), tuning="mine", own=mine, shape="triad", octaves=1))
    assert [round(tone.cents_from_equal, 9) for tone in tones] == [0.0, -13.7, 2.0]


@given(st.integers(-24, 24), st.fractions(-50, 50, max_denominator=1000))
def test_an_offset_is_exact(semitones: int, cents: Fraction) -> None:
    interval = offset(semitones, cents)
    assert interval / SEMITONE**semitones == Interval.of_cents(cents)
    assert interval.cents == pytest.approx(100 * semitones + float(cents), abs=1e-9)


@pytest.mark.parametrize(
    ("intervals", "words"),
    [
        ({12: "2"}, "semitones 12"),
        ({-1: "15/16"}, "semitones -1"),
        ({0: "81/80"}, "semitones 0"),
        ({4: "4/3", 5: "5/4"}, "semitones 4"),
        ({11: "2"}, "semitones 11"),
        ({7: "x"}, "interval"),
    ],
)
def test_own_tunings_that_do_not_rise_from_one_are_refused(intervals: dict[int, str], words: str) -> None:
    with pytest.raises(OutOfRangeError, match=words):
        own_tuning("mine", intervals)


def test_a_circle_must_close() -> None:
    with pytest.raises(OutOfRangeError, match="circle of fifths"):
        circle([FIFTH] * 12)
    with pytest.raises(OutOfRangeError, match="11 fifths"):
        circle([OCTAVE ** Fraction(7, 11)] * 11)
    assert circle([OCTAVE ** Fraction(7, 12)] * 12) == tuple(SEMITONE**n for n in range(12))
