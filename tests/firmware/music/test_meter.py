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


def test_another_list_from_a_bar_on_goes_round_by_itself_also_after_thousands_of_bars() -> None:
    bars = parse_bars("4/4 2/4").changed_from(5001, parse_bars("3/4x2 6/8"))
    assert [bars.bar(number)[1].text for number in range(4999, 5008)] == (
        ["4/4", "2/4", "3/4", "3/4", "6/8", "3/4", "3/4", "6/8", "3/4"]
    )
    assert bars.bar(5001)[0] == 2500 * Fraction(3, 2)
    again = bars.changed_from(5002, parse_bars("2/2"))
    assert [again.bar(number)[1].text for number in (1, 5000, 5001, 5002, 9999)] == ["4/4", "2/4", "3/4", "2/2", "2/2"]
    assert len(Bars().changed_from(100_000, parse_bars("3/4")).runs) == 2


@given(st.builds(Bars, runs, st.booleans()), st.integers(1, 40), st.builds(Bars, runs, st.booleans()))
def test_a_change_keeps_every_bar_before_it_and_brings_every_bar_after_it(old: Bars, number: int, new: Bars) -> None:
    both = old.changed_from(number, new)
    for bar in range(-2, number):
        assert both.bar(bar) == (old.bar(bar) if number > 1 else both.bar(bar))
    offset = old.bar(number)[0]
    for bar in range(1, 40):
        start, meter = new.bar(bar)
        assert both.bar(number - 1 + bar) == (offset + start, meter)
        assert both.number_at(offset + start) == number - 1 + bar


@given(st.text(alphabet="0123456789+/x*() |,", max_size=20))
def test_any_text_is_bars_or_a_clear_error(text: str) -> None:
    try:
        bars = parse_bars(text)
    except OutOfRangeError:
        return
    assert parse_bars(bars.text) == bars
    assert all(meter.beat.denominator in UNITS for _, meter in bars.runs)
