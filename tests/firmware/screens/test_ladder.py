"""The ladder: sharp is up, now is right, a rung is as long as it is loud, and near a player it shows single cents."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.screens.ladder import GRID, SPAN, ZOOM, Scale, draw_ladder, draw_octave, folded, rung_at
from firmware.screens.raster import Box, Canvas
from firmware.screens.view import HeardNote, Rung, TrailPoint, View

BOX = Box(2, 14, 64, 49)
THIRD = Rung("3", "D3", 386.31, 400.0, 0.5)
TRIAD = (Rung("1", "B♭2", 0.0, 0.0, 1.0), THIRD, Rung("5", "F3", 701.96, 700.0, 0.8))
NEAR = Scale(BOX, -ZOOM, ZOOM)


def picture(view: View, dots: Callable[..., Any]) -> Any:  # noqa: ANN401 - an array of truth values
    """The ladder of a view as rows and columns."""
    canvas = Canvas()
    draw_ladder(canvas, view, BOX)
    assert canvas.cuts == []
    return dots(canvas.done())


def hearing(off: float, **more: Any) -> View:  # noqa: ANN401 - any field of a view
    """A player on the third, some cents off."""
    heard = HeardNote("D4", "D4", "3", off, None, 386.31 + off)
    return View(heard=heard, rungs=TRIAD, values={"tolerance": 5}, **more)


def test_sharp_is_up_and_now_is_at_the_right_edge() -> None:
    scale = Scale(BOX, -60, 1260)
    assert scale.row(1260) == BOX.y
    assert scale.row(-60) == BOX.bottom - 1
    rows = [scale.row(cents) for cents in range(0, 1201, 100)]
    assert rows == sorted(rows, key=lambda row: -(row or 0))
    assert scale.row(1300) is None
    assert scale.column(0.0) == BOX.right - 1
    assert scale.column(SPAN) == scale.left
    assert scale.column(SPAN + 0.5) is None
    assert scale.column(-1.0) is None


def test_a_rung_is_as_long_as_it_is_loud(dots: Callable[..., Any]) -> None:
    for level, least, most in ((1.0, 42, 46), (0.5, 20, 25), (0.0, 2, 4)):
        shown = picture(View(rungs=(replace(THIRD, level=level),)), dots)
        row = Scale(BOX, -60, 1260).row(THIRD.cents)
        assert least <= shown[row, NEAR.left :].sum() <= most


def test_a_rung_that_does_not_sound_is_dotted(dots: Callable[..., Any]) -> None:
    sounding = picture(View(rungs=(THIRD,)), dots).sum()
    silent = picture(View(rungs=(replace(THIRD, sounding=False),)), dots).sum()
    assert silent < sounding


def test_the_tonic_stands_at_both_ends(dots: Callable[..., Any]) -> None:
    shown = picture(View(rungs=TRIAD[:1]), dots)
    lines = [row for row in range(64) if shown[row, NEAR.left :].sum() > 40]
    assert len(lines) == 2


def test_the_tick_of_equal_temperament_stands_where_it_is(dots: Callable[..., Any]) -> None:
    shown = picture(hearing(0.0), dots)
    tick = shown[:, NEAR.left - 4 : NEAR.left - 2].all(axis=1).nonzero()[0]
    assert list(tick) == [NEAR.row(400.0 - 386.31)]


def test_near_a_player_there_is_a_light_line_each_ten_cents(dots: Callable[..., Any]) -> None:
    shown = picture(hearing(0.0), dots)
    for cents in range(-40, 41, GRID):
        row = NEAR.row(cents)
        assert shown[row, NEAR.left : NEAR.right + 1].sum() >= 5
    assert math.isclose(NEAR.row(-40) - NEAR.row(40), 48)


def test_the_square_at_the_right_edge_stands_at_the_heard_pitch(dots: Callable[..., Any]) -> None:
    for off in (-30.0, -12.0, 0.0, 9.0, 25.0):
        shown = picture(hearing(off), dots)
        row = NEAR.row(off)
        assert shown[row - 1 : row + 2, NEAR.right - 2 : NEAR.right + 1].all()


@pytest.mark.parametrize("off", [-400.0, -41.0, 41.0, 400.0])
def test_a_pitch_beyond_the_zoom_stays_at_its_edge(off: float, dots: Callable[..., Any]) -> None:
    shown = picture(hearing(off), dots)
    rows = shown[:, NEAR.right - 2 : NEAR.right + 1].all(axis=1).nonzero()[0]
    assert list(rows) == (list(range(BOX.y, BOX.y + 3)) if off > 0 else list(range(BOX.bottom - 3, BOX.bottom)))


def test_the_trail_follows_what_was_heard(dots: Callable[..., Any]) -> None:
    trail = tuple(TrailPoint(age / 20, 386.31 + 20.0) for age in range(60, 20, -1))
    shown = picture(hearing(20.0, trail=trail), dots)
    row = NEAR.row(20.0)
    first, last = NEAR.column(3.0), NEAR.column(1.05)
    assert shown[row, first : last + 1].all()
    assert shown[row - 1, first : last + 1].all(), "two rows thick"


def test_points_far_apart_are_not_joined(dots: Callable[..., Any]) -> None:
    points = (TrailPoint(3.0, 366.0), TrailPoint(1.0, 406.0), TrailPoint(0.9, 700.0), TrailPoint(0.8, 406.0))
    shown = picture(hearing(20.0, trail=points), dots)
    between = shown[:, NEAR.column(2.5) : NEAR.column(1.5)]
    assert between.sum() == picture(hearing(20.0), dots)[:, NEAR.column(2.5) : NEAR.column(1.5)].sum()


def test_a_leap_to_another_tone_is_not_joined(dots: Callable[..., Any]) -> None:
    leap = (TrailPoint(2.0, 100.0), TrailPoint(1.9, 900.0))
    assert picture(View(trail=leap), dots).sum() == 2
    slide = (TrailPoint(2.0, 100.0), TrailPoint(1.9, 240.0))
    assert picture(View(trail=slide), dots).sum() > 2


def test_without_a_sounding_rung_the_target_is_a_dotted_line(dots: Callable[..., Any]) -> None:
    heard = HeardNote("F4", "F4", "5", 0.0, None, 701.96)
    shown = picture(View(heard=heard), dots)
    assert 15 <= shown[NEAR.row(0.0), NEAR.left : NEAR.right - 2].sum() <= 30


def test_a_rung_is_found_octaves_apart_and_the_louder_one_wins() -> None:
    quiet = Rung("1", "B♭2", 0.0, 0.0, 0.2)
    assert rung_at((quiet, TRIAD[0]), 1199.0) is TRIAD[0]
    assert rung_at(TRIAD, 386.0) is THIRD
    assert rung_at(TRIAD, 400.0) is None


@given(st.floats(-5000, 5000))
def test_folding_keeps_the_pitch_class(cents: float) -> None:
    assert -600 <= folded(cents) <= 600
    assert math.isclose((folded(cents) - cents) % 1200 % 1200, 0, abs_tol=1e-6) or math.isclose(
        (folded(cents) - cents) % 1200, 1200, abs_tol=1e-6
    )


def test_names_of_rungs_never_overlap(dots: Callable[..., Any]) -> None:
    rungs = tuple(Rung(str(degree), "", cents, cents, 1.0) for degree, cents in enumerate(range(0, 1200, 50)))
    canvas = Canvas()
    draw_octave(canvas, View(rungs=rungs), BOX)
    left = dots(canvas.done())[:, BOX.x : BOX.x + 12]
    blank = [row for row in range(BOX.y, BOX.bottom) if not left[row].any()]
    assert len(blank) >= 4
