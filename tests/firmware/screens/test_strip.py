"""The message strip: lines are broken at words, and it never leaves the screen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from firmware.screens.fonts import SMALL
from firmware.screens.raster import Canvas
from firmware.screens.render import render
from firmware.screens.strip import MOST_LINES, ROOM, draw_strip, lines_of
from firmware.screens.view import View


def test_a_short_message_is_one_line() -> None:
    assert lines_of("Take 3 runs") == ("Take 3 runs",)
    assert lines_of("") == ()


def test_a_long_message_is_broken_between_words() -> None:
    lines = lines_of("The stick is full and take 12 was closed safely")
    assert len(lines) == 2
    assert all(SMALL.width(line) <= ROOM for line in lines)
    assert " ".join(lines) == "The stick is full and take 12 was closed safely"


@given(st.text(max_size=200))
def test_any_text_can_be_drawn(message: str) -> None:
    canvas = Canvas()
    draw_strip(canvas, message)
    assert canvas.done()


def test_what_needs_more_lines_is_cut_and_named() -> None:
    canvas = Canvas()
    draw_strip(canvas, "word " * 40)
    assert len(canvas.cuts) == 1
    canvas = Canvas()
    draw_strip(canvas, "word " * 8)
    assert canvas.cuts == []


def test_one_line_leaves_the_tonic_whole(view: View, dots: Callable[..., Any]) -> None:
    plain, noted = dots(render(view)), dots(render(replace(view, message="Marker 2")))
    assert (plain[:51] == noted[:51]).all()
    assert noted[63].all()
    assert MOST_LINES == 2
