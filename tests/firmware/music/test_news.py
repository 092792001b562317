"""What the next bar brings is known one bar ahead."""

from __future__ import annotations

from fractions import Fraction

from firmware.music.meter import Bars, parse_bars
from firmware.music.moves import parse_moves
from firmware.music.news import next_news
from firmware.music.program import Program
from firmware.music.tempo import Curve


def program(bars: str = "4/4", moves: str = "", **more: int) -> Program:
    read = parse_bars(bars)
    return Program(read, Curve(23.0, parse_moves(moves, read, Fraction(1, 4), 92.0)), **more)


def test_a_new_meter_is_announced_in_the_bar_before() -> None:
    assert [next_news(program("4/4x2 3/4"), bar) for bar in range(1, 5)] == ["", "3/4", "4/4", ""]


def test_moves_are_announced_in_words() -> None:
    told = program(moves="1 bar, 92->60 over 4 beats, hold 2 beats, cut 1 s, 4 beats, tempo 80, 60->92 over 1 bar")
    assert [next_news(told, bar) for bar in range(5)] == [
        "",
        "slower to 60",
        "hold, cut-off",
        "tempo 80, faster to 92",
        "",
    ]


def test_silent_bars_and_the_end_are_announced() -> None:
    told = program(heard=2, silent=1, length=4)
    assert [next_news(told, bar) for bar in range(1, 6)] == ["", "silent", "heard", "end", ""]


def test_nothing_new_is_nothing() -> None:
    assert next_news(Program(Bars()), 10**6) == ""
