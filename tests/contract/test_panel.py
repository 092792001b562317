"""What every panel keeps: the simulated one, and the real driver on mock pins, clean and bouncing."""

from __future__ import annotations

from typing import Any

import pytest

from firmware.events import Event, KeyDown, KeyUp, KnobDown, KnobTurn, KnobUp, PanelKey, Pedal, PedalDown, PedalUp

Hands = Any  # of conftest.py, which tests can't import


def turns_in(events: list[Event]) -> int:
    return sum(event.steps for event in events if isinstance(event, KnobTurn))


@pytest.mark.parametrize("key", PanelKey)
def test_a_key_posts_that_it_went_down_and_came_up(hands: Hands, key: PanelKey) -> None:
    hands.start()
    hands.press(key)
    (down,) = hands.events(1)
    hands.release(key)
    (up,) = hands.events(1)
    assert (type(down), down.key, type(up), up.key) == (KeyDown, key, KeyUp, key)
    assert 1000 <= down.at < up.at
    assert hands.nothing_more()


@pytest.mark.parametrize("pedal", Pedal)
def test_a_pedal_posts_that_it_went_down_and_came_up(hands: Hands, pedal: Pedal) -> None:
    hands.start()
    hands.pedal_down(pedal)
    (down,) = hands.events(1)
    hands.pedal_up(pedal)
    (up,) = hands.events(1)
    assert (type(down), down.pedal, type(up), up.pedal) == (PedalDown, pedal, PedalUp, pedal)
    assert hands.nothing_more()


def test_the_knob_can_be_pushed(hands: Hands) -> None:
    hands.start()
    hands.knob_down()
    first = hands.events(1)
    hands.knob_up()
    assert [type(event) for event in first + hands.events(1)] == [KnobDown, KnobUp]
    assert hands.nothing_more()


@pytest.mark.parametrize("steps", [1, -1, 5, -7])
def test_every_detent_counts_clockwise_up(hands: Hands, steps: int) -> None:
    hands.start()
    hands.turn(steps)
    assert hands.turned(steps) == steps
    assert hands.nothing_more()


def test_a_long_turn_loses_no_detent(hands: Hands) -> None:
    hands.start()
    for hundreds in (5, -4, 3, 1):
        steps = hundreds * hands.many
        hands.turn(steps)
        assert hands.turned(steps) == steps
    assert hands.nothing_more()


def test_turning_back_and_forth_ends_where_it_began(hands: Hands) -> None:
    hands.start()
    for steps in (1, -1, 2, -2, 1, -1):
        hands.turn(steps)
        assert hands.turned(steps) == steps
    assert hands.nothing_more()


def test_a_held_key_frames_the_turns_made_under_it(hands: Hands) -> None:
    hands.start()
    hands.press(PanelKey.DRONE)
    events = hands.events(1)
    hands.turn(3)
    assert hands.turned(3) == 3
    hands.release(PanelKey.DRONE)
    events += hands.events(1)
    assert [type(event) for event in events] == [KeyDown, KeyUp]


def test_sample_counts_never_run_backwards_even_in_a_hurry(hands: Hands) -> None:
    hands.start()
    for key in PanelKey:
        hands.press(key)
        hands.turn(2)
    events = []
    while sum(isinstance(event, KeyDown) for event in events) < 6 or turns_in(events) < 12:
        events += hands.events(1)
    for key in PanelKey:
        hands.release(key)
    events += hands.events(6)
    assert turns_in(events) == 12
    assert [event.at for event in events] == sorted(event.at for event in events)


def test_keys_pressed_together_are_all_told(hands: Hands) -> None:
    hands.start()
    for key in PanelKey:
        hands.press(key)
    assert {event.key for event in hands.events(6)} == set(PanelKey)


def test_nothing_is_posted_before_start(hands: Hands) -> None:
    hands.press(PanelKey.EAR)
    hands.release(PanelKey.EAR)
    assert hands.nothing_more()


def test_nothing_is_posted_after_stop_and_a_second_stop_does_nothing(hands: Hands) -> None:
    hands.start()
    hands.panel.stop()
    hands.panel.stop()
    hands.press(PanelKey.EAR)
    hands.turn(1)
    assert hands.nothing_more()


def test_it_can_start_again(hands: Hands) -> None:
    hands.start()
    hands.panel.stop()
    hands.start()
    hands.press(PanelKey.TAKE)
    (event,) = hands.events(1)
    assert event.key is PanelKey.TAKE
