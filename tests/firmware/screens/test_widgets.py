"""Values, lines and level bars."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from firmware.screens import widgets
from firmware.screens.page import row
from firmware.screens.raster import Box, Canvas
from firmware.screens.view import View


def test_the_field_under_the_cursor_is_inverted(view: View, dots: Callable[..., Any]) -> None:
    for cursor, lit in (("mode", True), ("octave", False)):
        canvas = Canvas()
        widgets.value(canvas, replace(view, cursor=cursor), "mode", row(20, 10, 80))
        shown = dots(canvas.done())
        assert shown[19, 8:30].all() == lit
        assert shown[20:27, 10:30].any()


def test_a_line_has_its_label_left_and_its_value_right(view: View, dots: Callable[..., Any]) -> None:
    canvas = Canvas()
    widgets.line(canvas, view, "octave", row(20))
    shown = dots(canvas.done())
    assert shown[20:29, 2:10].any()
    assert shown[20:29, 120:126].any()
    assert not shown[20:29, 60:110].any()


def test_a_chosen_line_covers_no_neighbour(view: View, dots: Callable[..., Any]) -> None:
    places = (("compare_with", row(20)), ("tuning", row(29)))
    canvas = Canvas()
    widgets.lines(canvas, replace(view, cursor="tuning", page="room"), places)
    alone = Canvas()
    widgets.line(alone, view, "compare_with", row(20))
    assert (dots(canvas.done())[20:28] == dots(alone.done())[20:28]).all()


@pytest.mark.parametrize(("level", "columns"), [(-200.0, 0), (-60.0, 0), (-30.0, 50), (0.0, 100), (6.0, 100)])
def test_a_level_fills_its_share(level: float, columns: int) -> None:
    assert widgets.share(level, 100) == columns


def test_a_bar_shows_mean_and_peak(dots: Callable[..., Any]) -> None:
    canvas = Canvas()
    widgets.level_bar(canvas, Box(0, 10, 60, 5), -12.0, -30.0)
    assert list(dots(canvas.done())[11, :60].nonzero()[0]) == [*range(30), 47]
    empty = Canvas()
    widgets.level_bar(empty, Box(0, 10, 60, 5), -120.0, -120.0)
    assert not dots(empty.done())[10:13].any()
