"""A knob from its raw edges."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.selftest.quadrature import turned
from firmware.selftest.signals import LineChanged
from firmware.units import RATE


def turn(clicks: int, bounces: tuple[int, ...] = ()) -> tuple[LineChanged, ...]:
    """Edges of so many clicks, clockwise counts up: a leads b. Each quarter bounces as often as its place says."""
    lead, lag = ("a", "b") if clicks > 0 else ("b", "a")
    events: list[LineChanged] = []
    for number in range(4 * abs(clicks)):
        line, closed = ((lead, True), (lag, True), (lead, False), (lag, False))[number % 4]
        at = round((1.0 + 0.02 * number) * RATE)
        events.append(LineChanged(at, line, closed))
        for bounce in range(bounces[number % len(bounces)] if bounces else 0):
            events.append(LineChanged(at + 20 * bounce + 10, line, not closed))
            events.append(LineChanged(at + 20 * bounce + 20, line, closed))
    return tuple(events)


@given(st.integers(-20, 20), st.lists(st.integers(0, 5), min_size=1, max_size=8))
def test_clicks_are_counted_whatever_the_tracks_bounce(clicks: int, bounces: list[int]) -> None:
    found = turned(turn(clicks, tuple(bounces)), "a", "b")
    assert found.cycles == clicks
    assert not found.as_one


def test_swapped_tracks_turn_backwards() -> None:
    assert turned(turn(3), "b", "a").cycles == -3


def test_one_track_alone_goes_nowhere() -> None:
    only = tuple(event for event in turn(5) if event.line == "a")
    found = turned(only, "a", "b")
    assert (found.cycles, found.b_edges) == (0, 0)
    assert found.a_edges == 10


@pytest.mark.parametrize("late", [0, 20])
def test_joined_tracks_move_as_one(late: int) -> None:
    both = [
        LineChanged(event.at + late * (line == "b"), line, event.closed)
        for event in turn(5)
        if event.line == "a"
        for line in "ab"
    ]
    assert turned(both, "a", "b").as_one
