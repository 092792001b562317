"""Bouncing keys and knob: no press is lost or doubled, no detent lost, doubled or reversed."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.events import Event, KnobTurn
from tests.hardware.drivers.bouncing import Hand, expected_presses, felt, hand_of, turns_of

PANEL_CONTACTS = 9
"""Six keys, the knob's push, two pedals."""

ALL = 100_000


def in_order(events: list[Event]) -> list[Event]:
    return sorted((one for one in events if not isinstance(one, KnobTurn)), key=lambda one: (one.at, repr(one)))


def check(hand: Hand) -> int:
    """Compare what was meant with what was posted; how many sequences of bounces that were: detents and changes."""
    events = felt(hand)
    assert turns_of(events) == hand.turns
    assert in_order(events) == in_order(expected_presses(hand))
    return len(hand.turns) + sum(len(changes) for changes in hand.presses.values())


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_what_a_hand_does_to_bouncing_contacts_is_what_is_posted(seed: int) -> None:
    assert check(hand_of(seed, 30, 2)) == 30 + 2 * 2 * PANEL_CONTACTS


@pytest.mark.long
@pytest.mark.timeout(400)
def test_a_hundred_thousand_sequences_lose_double_and_reverse_nothing() -> None:
    done = 0
    for seed in range(1, 1000):
        done += check(hand_of(seed, 600, 12))
        if done >= ALL:
            break
    assert done >= ALL
