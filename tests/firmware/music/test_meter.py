"""Meters and bars."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.music.meter import COMMON_TIME, MOST_BARS, UNITS, Bars, Meter, meter_of, parse_bars, parse_meter

metres = st.builds(Meter, st.lists(st.integers(1, 5), min_size=1, max_size=4).map(tuple), st.just(Fraction(1, 8)))
runs = st.lists(st.tuples(st.integers(1, 5), metres), min_size=1, max_size=4).map(tuple)


@pytest.mark.parametrize(
    ("text", "groups", "beat", "length"),
    [
        ("4/4", (4,), "1/4", "1"),
        ("2/2", (2,), "1/2", "1"),
        ("3/8", (3,), "1/8", "3/8"),
        ("6/8", (2,), "3/8", "3/4"),
        ("9/8", (3,), "3/8", "9/8"),
        ("12/16", (4,), "3/16", "3/4"),
        ("6/4", (6,), "1/4", "3/2"),
        ("7/8", (7,), "1/8", "7/8"),
        ("2+2+3/8", (2, 2, 3), "1/8", "7/8"),
        ("3+2/4", (3, 2), "1/4", "5/4"),
        ("3+3/8", (3, 3), "1/8", "3/4"),
    ],
)
def test_meters_are_read_and_written(text: str, groups: tuple[int, ...], beat: str, length: str) -> None:
    meter = parse_meter(text)
    assert (meter.groups, meter.beat, meter.length) == (groups, Fraction(beat), Fraction(length))
    assert meter.text == text
    assert meter.compound == (text in {"6/8", "9/8", "12/16"})


def test_spaces_and_brackets_do_no_harm() -> None:
    assert parse_meter(" (2 + 2 + 3) / 8 ") == parse_meter("2+2+3/8")


@pytest.mark.parametrize("text", ["", "4", "4/5", "0/4", "2+0/4", "65/4", "60+10/4", "4/4/4", "-3/4", "four/4", "3/64"])
def test_what_is_no_meter_is_refused(text: str) -> None:
    with pytest.raises(OutOfRangeError):
        parse_meter(text)


def test_the_first_beat_and_each_group_are_stressed() -> None:
    assert parse_meter("2+2+3/8").weights == (1.0, 0.5, 0.75, 0.5, 0.75, 0.5, 0.5)
    assert meter_of(4, 4).weights == (1.0, 0.5, 0.5, 0.5)


def test_a_list_of_bars_goes_round() -> None:
    bars = parse_bars("4/4x2 | 3/4, 2+2+3/8")
    assert bars.text == "4/4x2 3/4 2+2+3/8"
    assert [bars.bar(number)[1].text for number in range(-1, 10)] == (
        ["4/4"] * 4 + ["3/4", "2+2+3/8", "4/4", "4/4", "3/4", "2+2+3/8", "4/4"]
    )
    assert bars.bar(5)[0] == Fraction(2) + Fraction(3, 4) + Fraction(7, 8)
    assert bars.bar(0)[0] == -1


@pytest.mark.parametrize("text", ["", " | ", "4/4 x", "4/4x0", f"4/4x{MOST_BARS} 3/4", "4/4 waltz"])
def test_what_is_no_list_is_refused(text: str) -> None:
    with pytest.raises(OutOfRangeError):
        parse_bars(text)


@given(st.builds(Bars, runs, st.booleans()), st.integers(-5, 300))
def test_every_bar_is_found_where_it_begins_and_just_before_its_end(bars: Bars, number: int) -> None:
    start, meter = bars.bar(number)
    assert bars.number_at(start) == number
    assert bars.number_at(start + meter.length - Fraction(1, 10**9)) == number
    assert bars.bar(number + 1)[0] == start + meter.length


def test_bars_that_do_not_repeat_go_on_with_the_last_meter() -> None:
    bars = Bars(((1, parse_meter("3/4")), (2, COMMON_TIME)), repeat=False)
    assert [bars.bar(number)[1].beats for number in (0, 1, 2, 3, 4, 99)] == [3, 3, 4, 4, 4, 4]


def test_another_meter_from_a_bar_on_keeps_the_numbers() -> None:
    bars = Bars().changed_from(4, parse_bars("3/4"))
    assert [bars.bar(number)[1].text for number in range(1, 7)] == ["4/4"] * 3 + ["3/4"] * 3
    assert bars.bar(6)[0] == 3 + 2 * Fraction(3, 4)
    assert Bars().changed_from(1, parse_bars("3/4")) == parse_bars("3/4")


@given(st.text(alphabet="0123456789+/x*() |,", max_size=20))
def test_any_text_is_bars_or_a_clear_error(text: str) -> None:
    try:
        bars = parse_bars(text)
    except OutOfRangeError:
        return
    assert parse_bars(bars.text) == bars
    assert all(meter.beat.denominator in UNITS for _, meter in bars.runs)
