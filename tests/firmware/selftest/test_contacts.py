"""Edges of a contact: bursts, what counts as moved, and how presses are counted."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from firmware.selftest.contacts import bursts_of, meant, moved_lines, presses_of, quiet_since
from firmware.units import RATE
from tests.firmware.selftest.benches import edges

NONE: frozenset[str] = frozenset()


def test_a_bouncing_press_and_release_are_two_bursts() -> None:
    events = edges("x", 1.0, 1.001, 1.002, 2.0, 2.001, 2.002)
    down, up = bursts_of(events, "x")
    assert (down.before, down.after, up.before, up.after) == (False, True, True, False)
    assert abs(down.seconds - 0.002) < 1e-4
    assert presses_of(events, "x") == 1


def test_a_slip_is_a_burst_that_changes_nothing() -> None:
    down, slip, up = bursts_of(edges("x", 1.0, 1.5, 1.508, 2.0), "x")
    assert slip.before is slip.after is True
    assert down.after
    assert not up.after


def test_a_spark_does_not_count_as_moved() -> None:
    assert moved_lines(edges("x", 1.0, 1.001), NONE, RATE * 2) == frozenset()
    assert moved_lines(edges("x", 1.0, 1.3), NONE, RATE * 2) == {"x"}
    assert moved_lines(edges("x", 1.9), NONE, RATE * 2) == {"x"}


def test_many_sparks_are_no_move_either() -> None:
    times = [second for number in range(20) for second in (number * 0.4, number * 0.4 + 0.001)]
    assert moved_lines(edges("x", *times), NONE, RATE * 10) == frozenset()


def test_a_line_that_was_closed_moves_by_opening() -> None:
    assert moved_lines(edges("x", 1.0, 2.0, closed=False), frozenset({"x"}), RATE * 3) == {"x"}


def test_the_end_of_a_spark_is_no_move_when_the_line_was_open() -> None:
    assert moved_lines(edges("x", 0.001, closed=False), NONE, RATE) == frozenset()


def test_only_lines_that_moved_are_meant() -> None:
    events = (*edges("x", 1.0, 2.0), *edges("y", 2.5, 2.501))
    assert {edge.line for edge in meant(events, NONE, 3 * RATE)} == {"x"}
    assert quiet_since(meant(events, NONE, 3 * RATE), 3 * RATE) == RATE
    assert quiet_since((), 5) == 5


@given(st.integers(1, 5), st.integers(0, 6))
def test_presses_are_counted_whatever_they_bounce(count: int, bounces: int) -> None:
    times: list[float] = []
    for number in range(count):
        for start in (number * 0.4 + 1.0, number * 0.4 + 1.1):
            times += [start + 0.001 * step for step in range(2 * (bounces // 2) + 1)]
    assert presses_of(edges("x", *times), "x") == count
