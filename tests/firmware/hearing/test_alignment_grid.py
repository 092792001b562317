"""The grid has every place of every bar at its time."""

from __future__ import annotations

from fractions import Fraction

import pytest

from firmware.hearing.alignment_grid import Place, grid_of
from firmware.music.meter import parse_bars
from firmware.music.moves import parse_moves
from firmware.music.program import Program
from firmware.music.tempo import Curve


def test_eighths_of_a_common_bar():
    grid = grid_of(Program(curve=Curve(120 / 4)), 0.0, 1.9, 2)
    assert [str(place.beat) for place in grid.places[:8]] == ["1", "3/2", "2", "5/2", "3", "7/2", "4", "9/2"]
    assert grid.times[:8].tolist() == pytest.approx([0.25 * step for step in range(8)])
    assert {place.bar for place in grid.places[:8]} == {1}
    assert grid.times[-1] > 1.9


def test_bars_before_the_first_are_there_for_early_players():
    grid = grid_of(Program(curve=Curve(30.0)), -0.5, 0.1, 1)
    assert (grid.places[0].bar, grid.times[0]) == (0, pytest.approx(-2.0))


def test_additive_meters_count_their_own_beats():
    grid = grid_of(Program(bars=parse_bars("2+2+3/8"), curve=Curve(120 / 8)), 0.0, 3.6, 1)
    assert [int(place.beat) for place in grid.places[:14]] == [1, 2, 3, 4, 5, 6, 7, 1, 2, 3, 4, 5, 6, 7]
    assert grid.times[7] == pytest.approx(3.5)


def test_silent_bars_are_marked():
    grid = grid_of(Program(curve=Curve(30.0), heard=1, silent=1), 0.0, 3.9, 1)
    assert [place.silent for place in grid.places[:8]] == [False] * 4 + [True] * 4
    assert grid.places[4] == Place(2, Fraction(1), silent=True)


def test_a_ramp_bends_the_grid():
    bars = parse_bars("4/4")
    moves = parse_moves("60->120 over 4 beats", bars, Fraction(1, 4), 60.0)
    program = Program(bars=bars, curve=Curve(15.0, moves))
    grid = grid_of(program, 0.0, 5.0, 1)
    assert grid.times[:5].tolist() == pytest.approx([program.time(Fraction(beat, 4)) for beat in range(5)])
    assert grid.times[1] - grid.times[0] > grid.times[4] - grid.times[3]
