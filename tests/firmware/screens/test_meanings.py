"""What gestures mean: the table is complete, and each row becomes the event that it promises."""

from __future__ import annotations

from firmware.events import Adjusted, Wish, Wished
from firmware.screens.fields import BY_NAME
from firmware.screens.gestures import MANNERS, TRANSITIONS, Control, Gesture, Kind
from firmware.screens.meanings import GESTURES, MEANINGS, events_of

NOT_A_FIELD = {"replay_place"}
"""Turned while Replay is down; it has no place on a page."""


def test_every_gesture_that_can_happen_has_a_meaning() -> None:
    possible = {(control, row.kind) for control, manner in MANNERS.items() for row in TRANSITIONS[manner] if row.kind}
    possible |= {(Control.KNOB, Kind.TURN), (Control.LEFT_PEDAL, Kind.PRESS), (Control.RIGHT_PEDAL, Kind.PRESS)}
    assert set(MEANINGS) == possible
    assert len(MEANINGS) == len(GESTURES)


def test_every_wish_can_be_wished() -> None:
    assert {row.wish for row in GESTURES if row.wish} == set(Wish)


def test_amounts_turn_fields_that_there_are() -> None:
    fields = {row.field for row in GESTURES if row.field}
    assert fields - set(BY_NAME) == NOT_A_FIELD
    assert {row.control for row in GESTURES if row.kind is Kind.AMOUNT} == set(MANNERS) - {Control.KNOB}


def test_wishes_and_adjustments_carry_time_and_amount() -> None:
    assert events_of(Gesture(7, Control.DRONE, Kind.TAP)) == (Wished(7, Wish.DRONE_TOGGLE),)
    assert events_of(Gesture(7, Control.TAKE, Kind.AMOUNT, -3)) == (Adjusted(7, "mic_gain", -3),)
    assert events_of(Gesture(7, Control.RIGHT_PEDAL, Kind.PRESS)) == (Wished(7, Wish.PLAN_NEXT),)


def test_the_knobs_own_gestures_and_the_start_of_tapping_ask_for_nothing() -> None:
    for control, kind in ((Control.KNOB, Kind.TURN), (Control.KNOB, Kind.PUSH), (Control.PULSE, Kind.HOLD)):
        assert events_of(Gesture(1, control, kind, 1)) == ()


def test_a_gesture_outside_the_table_means_nothing() -> None:
    assert events_of(Gesture(1, Control.LEFT_PEDAL, Kind.HOLD)) == ()
