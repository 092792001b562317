"""Pen strokes: straight ones lie on whole pixels, curves are round, closed paths close."""

from __future__ import annotations

import pytest

from firmware.screens.strokes import Pen, draw

PEN = Pen(height=16, stem=2)


def test_a_stem_is_as_wide_as_the_pen_and_sharp() -> None:
    glyph = draw("0,0 0,1", 0.5, PEN)
    assert glyph.width == 8
    assert set(glyph.rows) == {"##......"}


def test_a_bar_lies_on_whole_rows() -> None:
    glyph = draw("0,.5 1,.5", 0.5, PEN)
    lit = [number for number, row in enumerate(glyph.rows) if "#" in row]
    assert lit == [7, 8]
    assert glyph.rows[7] == "#" * 8


def test_a_point_is_a_square_dot() -> None:
    glyph = draw("0,1 0,1", 0.125, PEN)
    assert glyph.rows[-3:] == ("..", "##", "##")


def test_a_thin_stroke_is_thinner() -> None:
    pen = Pen(height=32, stem=4)
    assert draw("thin 0,0 0,1", 0.5, pen).rows[5].count("#") == 2
    assert draw("0,0 0,1", 0.5, pen).rows[5].count("#") == 4


def test_a_sharp_corner_is_filled_and_a_rounded_one_is_not() -> None:
    assert draw("0,1 0,0 1,0", 0.5, PEN).rows[0][0] == "#"
    assert draw("0,1 0,0~ 1,0", 0.5, PEN).rows[0][0] == "."


@pytest.mark.parametrize("height", [12, 20, 33])
def test_a_ring_is_closed_and_symmetrical(height: int) -> None:
    rows = draw("0,0~ 1,0~ 1,1~ 0,1~ z", 0.7, Pen(height=height, stem=3)).rows
    assert rows == tuple(row[::-1] for row in rows)
    assert rows == rows[::-1]
    assert rows[height // 2].startswith("###")
    assert "." in rows[height // 2]


def test_paths_add_up() -> None:
    both = draw("0,0 0,1; 1,0 1,1", 0.5, PEN)
    assert set(both.rows) == {"##....##"}


def test_corners_that_fall_together_do_no_harm() -> None:
    assert "#" in "".join(draw("0,0 0,0~ 0,0", 0.5, PEN).rows)
