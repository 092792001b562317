"""A player who was there when own sound began."""

from __future__ import annotations

import numpy as np

from firmware.hearing.own_doubt import Doubt, remnant

LINES = np.array([220.0, 440.0, 660.0])


def test_without_a_player_there_is_no_doubt() -> None:
    doubt = Doubt(-100)
    doubt.begin(LINES, 5, 45)
    assert not doubt.lasts
    assert not doubt.of(220.0)


def test_a_player_on_the_lines_is_doubted_with_his_octaves_and_not_another() -> None:
    doubt = Doubt(-100)
    doubt.player(100, 220.5)
    doubt.begin(LINES, 110, 45)
    assert doubt.lasts
    assert doubt.of(220.5)
    assert doubt.of(441.0)
    assert doubt.of(110.2)
    assert not doubt.of(300.0)


def test_a_player_beside_the_lines_or_long_ago_is_not_doubted() -> None:
    doubt = Doubt(-100)
    doubt.player(100, 300.0)
    doubt.begin(LINES, 110, 45)
    assert not doubt.lasts
    doubt.player(100, 220.0)
    doubt.begin(LINES, 160, 45)
    assert not doubt.lasts


def test_a_player_of_unknown_pitch_is_doubted_everywhere() -> None:
    doubt = Doubt(-100)
    doubt.player(100, None)
    doubt.begin(LINES, 110, 45)
    assert doubt.of(300.0)


def test_a_remnant_is_a_high_multiple_of_the_lowest_line() -> None:
    assert remnant(5 * 110.0 + 1.0, 110.0, 3.25)
    assert not remnant(5 * 110.0 + 5.0, 110.0, 3.25)
    assert not remnant(4 * 110.0, 110.0, 3.25)
