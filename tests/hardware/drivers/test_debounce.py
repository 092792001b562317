"""One press is one change, however the contact bounces; what is too short to be a press is none."""

from __future__ import annotations

from itertools import accumulate

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.drivers.debounce import Change, Contact, edge, settled

SETTLE = 0.005
RATE = 48_000


def changes(edges: list[tuple[float, bool]], *, start: bool = False) -> list[Change]:
    """Changes that edges of (seconds, closed) make, asked each millisecond until all is calm."""
    contact = Contact(SETTLE, closed=start, raw=start)
    found = []
    waiting = list(edges)
    for millisecond in range(700):
        now = millisecond / 1000
        while waiting and waiting[0][0] <= now:
            time, closed = waiting.pop(0)
            contact = edge(contact, closed=closed, time=time, at=round(time * RATE))
        contact, change = settled(contact, now)
        if change:
            found.append(change)
    assert not waiting
    assert contact.due is None
    return found


def test_a_clean_press_and_release_are_two_changes_dated_to_their_edges() -> None:
    assert changes([(0.1, True), (0.3, False)]) == [Change(closed=True, at=4800), Change(closed=False, at=14400)]


def test_a_bouncing_press_is_one_change_dated_to_its_first_edge() -> None:
    bounce = [(0.1, True), (0.1004, False), (0.101, True), (0.1013, False), (0.103, True)]
    assert changes(bounce) == [Change(closed=True, at=4800)]


def test_a_spike_shorter_than_the_settling_time_is_nothing() -> None:
    assert changes([(0.1, True), (0.1001, False)]) == []


def test_a_contact_that_never_keeps_still_says_nothing_until_it_does() -> None:
    chatter = [(0.1 + 0.002 * n, n % 2 == 0) for n in range(101)]
    assert changes(chatter) == [Change(closed=True, at=4800)]


def test_a_contact_that_is_closed_at_first_can_open() -> None:
    assert changes([(0.1, False)], start=True) == [Change(closed=False, at=4800)]


def test_nothing_is_certain_before_its_time() -> None:
    pressed = edge(Contact(SETTLE), closed=True, time=1.0, at=7)
    assert pressed.due == pytest.approx(1.005)
    assert settled(pressed, 1.0049) == (pressed, None)
    assert settled(pressed, 1.0051)[1] == Change(closed=True, at=7)


BOUNCE = st.lists(st.floats(1e-5, 0.9 * SETTLE), max_size=8).filter(lambda gaps: len(gaps) % 2 == 0)
"""Gaps between the edges that follow the first; an even number, so that the contact ends where it meant to."""


@settings(max_examples=50)
@given(presses=st.integers(1, 3), bounces=st.lists(BOUNCE, min_size=6, max_size=6))
def test_every_press_counts_once_for_any_bounce(presses: int, bounces: list[list[float]]) -> None:
    edges = []
    for number in range(2 * presses):
        closed = number % 2 == 0
        moment = 0.1 * (number + 1)
        times = [moment, *(moment + gap for gap in accumulate(bounces[number]))]
        edges += [(time, closed == (place % 2 == 0)) for place, time in enumerate(times)]
    wanted = [Change(closed=number % 2 == 0, at=round(0.1 * (number + 1) * RATE)) for number in range(2 * presses)]
    assert changes(edges) == wanted
