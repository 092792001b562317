"""What gestures mean: the table is complete, and each row becomes the event that it promises."""

from __future__ import annotations

from firmware.events import Adjusted, Wish, Wished
from firmware.screens.fields import BY_NAME
from firmware.screens.gestures import MANNERS, TRANSITIONS, Control, Gesture, Kind
from firmware.screens.meanings import DRILL_GESTURES, GESTURES, MEANINGS, drill_events_of, events_of

NOT_A_FIELD = {"replay_place", "drill_slide"}
"""Turned while Replay is down, or during a drill; they have no place on a page."""


def test_every_gesture_that_can_happen_has_a_meaning() -> None:
    possible = {(control, row.kind) for control, manner in MANNERS.items() for row in TRANSITIONS[manner] if row.kind}
    possible |= {(Control.KNOB, Kind.TURN), (Control.LEFT_PEDAL, Kind.PRESS), (Control.RIGHT_PEDAL, Kind.PRESS)}
    assert set(MEANINGS) == possible
    assert len(MEANINGS) == len(GESTURES)


def test_every_wish_can_be_wished() -> None:
    # Leaving a drill has no row: it is what every gesture means that the table of drills does not have.
    rows = (*GESTURES, *DRILL_GESTURES)
    assert {row.wish for row in rows if row.wish} | {Wish.DRILL_LEAVE} == set(Wish)


def test_amounts_turn_fields_that_there_are() -> None:
    fields = {row.field for row in (*GESTURES, *DRILL_GESTURES) if row.field}
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


def test_during_a_drill_keys_are_answers_and_takes_stay_takes() -> None:
    assert drill_events_of(Gesture(7, Control.DRONE, Kind.TAP)) == (Wished(7, Wish.DRILL_JUST),)
    assert drill_events_of(Gesture(7, Control.RIGHT_PEDAL, Kind.PRESS)) == (Wished(7, Wish.DRILL_EQUAL),)
    assert drill_events_of(Gesture(7, Control.KNOB, Kind.TURN, -2)) == (Adjusted(7, "drill_slide", -2),)
    assert drill_events_of(Gesture(7, Control.TAKE, Kind.TAP)) == events_of(Gesture(7, Control.TAKE, Kind.TAP))


def test_a_key_that_comes_up_during_a_drill_says_nothing() -> None:
    assert drill_events_of(Gesture(7, Control.COMPARE, Kind.UP)) == ()


def test_any_other_gesture_ends_the_drill() -> None:
    listed = {(row.control, row.kind) for row in DRILL_GESTURES}
    others = set(MEANINGS) - listed
    assert {(Control.REPLAY, Kind.TAP), (Control.EAR, Kind.TAP), (Control.KNOB, Kind.PUSH_TURN)} <= others
    assert all(drill_events_of(Gesture(1, control, kind, 1)) is None for control, kind in others)
