"""Gestures: every row of the table, and that no press and no detent is lost or doubled, whatever fingers do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.events import Event, KeyDown, KeyUp, KnobDown, KnobTurn, KnobUp, PanelKey, Pedal, PedalDown, PedalUp, Tick
from firmware.screens.gestures import (
    HOLD,
    MANNERS,
    RULES,
    TAPS_END,
    TRANSITIONS,
    Control,
    Gesture,
    GestureState,
    Kind,
    Phase,
    Stimulus,
    step,
)
from firmware.take_events import StickChanged
from firmware.units import RATE

DRONE, COMPARE, PULSE = PanelKey.DRONE, PanelKey.COMPARE, PanelKey.PULSE
SECOND = RATE


def run(events: Iterable[Event], state: GestureState | None = None) -> tuple[GestureState, list[Gesture]]:
    """State after some events, and all gestures on the way."""
    state, done = state or GestureState(), []
    for event in events:
        state, new = step(state, event)
        done += new
    return state, done


def told(events: Iterable[Event]) -> list[tuple[Control, Kind, int]]:
    """Gestures without their times."""
    return [(gesture.control, gesture.kind, gesture.amount) for gesture in run(events)[1]]


def test_a_short_press_is_a_tap_at_its_release() -> None:
    state, done = run([KeyDown(100, DRONE), Tick(1000), KeyUp(100 + HOLD - 1, DRONE)])
    assert done == [Gesture(100 + HOLD - 1, Control.DRONE, Kind.TAP)]
    assert state == GestureState()


def test_a_long_press_is_a_hold_at_the_first_tick_after_half_a_second() -> None:
    events = [KeyDown(100, DRONE), Tick(HOLD), Tick(HOLD + 2400), Tick(HOLD + 4800), KeyUp(3 * SECOND, DRONE)]
    assert run(events)[1] == [Gesture(HOLD + 2400, Control.DRONE, Kind.HOLD)]


def test_a_hold_is_seen_even_without_a_tick() -> None:
    assert told([KeyDown(0, DRONE), KeyUp(HOLD, DRONE)]) == [(Control.DRONE, Kind.HOLD, 0)]
    assert told([KeyDown(0, DRONE), KeyDown(SECOND, PULSE)]) == [(Control.DRONE, Kind.HOLD, 0)]


def test_turning_while_a_key_is_down_sets_its_amount_and_cancels_tap_and_hold() -> None:
    events = [KeyDown(0, DRONE), KnobTurn(9, 2), KnobTurn(12, -1), Tick(SECOND), KeyUp(2 * SECOND, DRONE)]
    assert told(events) == [(Control.DRONE, Kind.AMOUNT, 2), (Control.DRONE, Kind.AMOUNT, -1)]


def test_turning_after_a_hold_still_sets_the_amount() -> None:
    events = [KeyDown(0, DRONE), Tick(SECOND), KnobTurn(SECOND + 1, 3), KeyUp(2 * SECOND, DRONE)]
    assert told(events) == [(Control.DRONE, Kind.HOLD, 0), (Control.DRONE, Kind.AMOUNT, 3)]


def test_compare_acts_at_once_and_ends_with_its_release() -> None:
    events = [KeyDown(5, COMPARE), Tick(SECOND), KnobTurn(SECOND, 1), KeyUp(2 * SECOND, COMPARE)]
    assert run(events)[1] == [
        Gesture(5, Control.COMPARE, Kind.DOWN),
        Gesture(SECOND, Control.COMPARE, Kind.AMOUNT, 1),
        Gesture(2 * SECOND, Control.COMPARE, Kind.UP),
    ]


def test_the_knob_alone_turns_and_pushes() -> None:
    assert told([KnobTurn(1, -4)]) == [(Control.KNOB, Kind.TURN, -4)]
    assert told([KnobDown(1), Tick(SECOND), KnobUp(2 * SECOND)]) == [(Control.KNOB, Kind.PUSH, 0)]
    assert told([KnobTurn(1, 0)]) == []


def test_push_and_turn_leaves_no_push_behind() -> None:
    events = [KnobDown(1), KnobTurn(2, 1), KnobTurn(3, 1), KnobUp(4), KnobTurn(5, 1)]
    kinds = [kind for _, kind, _ in told(events)]
    assert kinds == [Kind.PUSH_TURN, Kind.PUSH_TURN, Kind.TURN]


def test_pedals_act_when_they_go_down() -> None:
    events = [PedalDown(1, Pedal.RIGHT), PedalUp(2, Pedal.RIGHT), PedalDown(3, Pedal.LEFT)]
    assert told(events) == [(Control.RIGHT_PEDAL, Kind.PRESS, 0), (Control.LEFT_PEDAL, Kind.PRESS, 0)]


def test_a_turn_belongs_to_the_control_pressed_last_of_those_down() -> None:
    both = [KeyDown(1, COMPARE), KeyDown(2, DRONE)]
    assert told([*both, KnobTurn(3, 1)])[-1] == (Control.DRONE, Kind.AMOUNT, 1)
    assert told([*both, KeyUp(3, DRONE), KnobTurn(4, 1)])[-1] == (Control.COMPARE, Kind.AMOUNT, 1)
    assert told([*both, KnobDown(3), KnobTurn(4, 1)])[-1] == (Control.KNOB, Kind.PUSH_TURN, 1)
    assert told([KnobDown(1), KeyDown(2, DRONE), KnobTurn(3, 1)])[-1] == (Control.DRONE, Kind.AMOUNT, 1)


def test_two_keys_at_once_do_not_disturb_each_other() -> None:
    events = [
        KeyDown(0, DRONE),
        KeyDown(100, PanelKey.TAKE),
        KeyUp(200, DRONE),
        Tick(SECOND),
        KeyUp(SECOND, PanelKey.TAKE),
    ]
    assert told(events) == [(Control.DRONE, Kind.TAP, 0), (Control.TAKE, Kind.HOLD, 0)]


def taps(*times: float) -> list[Event]:
    """Short presses of Pulse at some seconds."""
    return [
        event
        for time in times
        for event in (KeyDown(round(time * RATE), PULSE), KeyUp(round(time * RATE) + 2000, PULSE))
    ]


HELD_PULSE = [KeyDown(0, PULSE), Tick(HOLD), KeyUp(SECOND, PULSE)]


def test_after_a_hold_pulse_takes_the_tempo_from_the_moment_of_each_press() -> None:
    state, done = run([*HELD_PULSE, *taps(2, 2.6, 3.2)])
    assert done[0].kind is Kind.HOLD
    assert [(gesture.kind, gesture.at) for gesture in done[1:]] == [
        (Kind.TEMPO_TAP, round(time * RATE)) for time in (2, 2.6, 3.2)
    ]
    assert state.tapping


def test_pulse_pressed_again_is_the_one_pressed_last() -> None:
    events = [*HELD_PULSE, KeyDown(2 * SECOND, DRONE), KeyDown(2 * SECOND + 1, PULSE), KnobTurn(2 * SECOND + 2, 5)]
    assert told(events)[-1] == (Control.PULSE, Kind.AMOUNT, 5)


def test_tapping_ends_after_three_seconds_without_a_tap() -> None:
    kinds = [gesture.kind for gesture in run([*HELD_PULSE, *taps(3.9, 6.8), *taps(9.9)])[1]]
    assert kinds == [Kind.HOLD, Kind.TEMPO_TAP, Kind.TEMPO_TAP, Kind.TAP]
    state, _ = run([*HELD_PULSE, Tick(SECOND + TAPS_END - 1)])
    assert state.tapping
    assert not step(state, Tick(SECOND + TAPS_END))[0].tapping


def test_a_turn_while_tapping_sets_the_tempo_and_ends_it() -> None:
    events = [*HELD_PULSE, KeyDown(2 * SECOND, PULSE), KnobTurn(2 * SECOND + 5, 4), KeyUp(2 * SECOND + 9, PULSE)]
    state, done = run(events)
    assert [gesture.kind for gesture in done] == [Kind.HOLD, Kind.TEMPO_TAP, Kind.AMOUNT]
    assert not state.tapping


def test_pulse_held_through_the_wait_does_nothing_more() -> None:
    events = [*HELD_PULSE, KeyDown(2 * SECOND, PULSE), Tick(6 * SECOND), KeyUp(7 * SECOND, PULSE)]
    state, done = run(events)
    assert [gesture.kind for gesture in done] == [Kind.HOLD, Kind.TEMPO_TAP]
    assert state == GestureState()


def test_a_turn_while_waiting_for_taps_is_the_cursors() -> None:
    assert told([*HELD_PULSE, KnobTurn(2 * SECOND, 1)])[-1] == (Control.KNOB, Kind.TURN, 1)


def test_a_stray_release_and_a_doubled_press_do_nothing() -> None:
    assert told([KeyUp(1, DRONE), KnobUp(2), KeyUp(3, COMPARE)]) == []
    assert told([KeyDown(1, DRONE), KeyDown(2, DRONE), KeyUp(3, DRONE)]) == [(Control.DRONE, Kind.TAP, 0)]


def test_events_of_others_only_let_time_pass() -> None:
    assert told([KeyDown(0, DRONE), StickChanged(SECOND, present=True)]) == [(Control.DRONE, Kind.HOLD, 0)]
    assert told([StickChanged(SECOND, present=True)]) == []


def test_the_table_is_sound() -> None:
    assert sum(len(rows) for rows in TRANSITIONS.values()) == len(RULES), "two rows for one case"
    assert set(MANNERS.values()) == set(TRANSITIONS)
    for manner, rows in TRANSITIONS.items():
        reached = {Phase.UP} | {row.then for row in rows}
        assert {row.phase for row in rows} == reached, f"{manner}: a phase without a way out, or never reached"
        for phase in reached - {Phase.UP, Phase.WAITING}:
            assert (manner, phase, Stimulus.RELEASE) in RULES, f"{manner}: stuck in {phase}"


# --- whatever fingers do ----------------------------------------------------------------------------------------

KEYS = list(PanelKey)
moves = st.lists(
    st.tuples(st.sampled_from([0, 1, 2000, HOLD - 1, HOLD, HOLD + 1, TAPS_END]), st.integers(0, 9), st.integers(-3, 3)),
    max_size=60,
)


def fingers(script: list[tuple[int, int, int]]) -> list[Event]:
    """Events of ten things to touch, each going down and up in turn, as real ones do; all released at the end."""
    events: list[Event] = []
    down: set[int] = set()
    now = 0
    for wait, what, steps in [*script, *((1, what, 0) for what in range(7))]:
        now += wait
        closing = len(events) >= len(script)
        if what < 6 and (not closing or what in down):
            events.append((KeyUp if what in down else KeyDown)(now, KEYS[what]))
            down ^= {what}
        elif what == 6 and (not closing or what in down):
            events.append((KnobUp if what in down else KnobDown)(now))
            down ^= {what}
        elif what == 7:
            events.append(KnobTurn(now, steps))
        elif what == 8:
            events.append(Tick(now))
        elif what == 9:
            events.append(PedalDown(now, Pedal.LEFT if steps < 0 else Pedal.RIGHT))
    return events


@given(moves)
def test_no_detent_is_lost_or_doubled(script: list[tuple[int, int, int]]) -> None:
    events = fingers(script)
    turned = [event.steps for event in events if isinstance(event, KnobTurn) and event.steps]
    gestures = run(events)[1]
    assert [gesture.amount for gesture in gestures if gesture.amount] == turned
    turning = {Kind.TURN, Kind.AMOUNT, Kind.PUSH_TURN}
    assert all((gesture.kind in turning) == bool(gesture.amount) for gesture in gestures)


@given(moves)
def test_every_press_without_a_turn_is_one_tap_or_one_hold(script: list[tuple[int, int, int]]) -> None:
    events = [event for event in fingers(script) if not isinstance(event, KnobTurn)]
    presses = Counter(Control(event.key.value) for event in events if isinstance(event, KeyDown))
    state, gestures = run(events)
    once = Counter(g.control for g in gestures if g.kind in {Kind.TAP, Kind.HOLD, Kind.TEMPO_TAP, Kind.DOWN})
    assert once == presses
    ended = sum(gesture.kind is Kind.UP for gesture in gestures)
    assert ended == presses[Control.COMPARE]
    pushes = sum(isinstance(event, KnobDown) for event in events)
    assert sum(gesture.kind is Kind.PUSH for gesture in gestures) == pushes
    assert all(touch.phase is Phase.WAITING for touch in state.touches), "something is still down"


@given(moves)
def test_every_turned_press_is_an_amount_and_no_tap(script: list[tuple[int, int, int]]) -> None:
    events = fingers(script)
    presses = Counter(Control(event.key.value) for event in events if isinstance(event, KeyDown))
    firsts = Counter(g.control for g in run(events)[1] if g.kind in {Kind.TAP, Kind.HOLD, Kind.TEMPO_TAP, Kind.DOWN})
    assert all(firsts[control] <= presses[control] for control in presses)


@given(
    st.lists(
        st.one_of(
            st.builds(KeyDown, st.integers(-10, 10**9), st.sampled_from(PanelKey)),
            st.builds(KeyUp, st.integers(-10, 10**9), st.sampled_from(PanelKey)),
            st.builds(KnobTurn, st.integers(-10, 10**9), st.integers(-100, 100)),
            st.builds(KnobDown, st.integers(-10, 10**9)),
            st.builds(KnobUp, st.integers(-10, 10**9)),
            st.builds(Tick, st.integers(-10, 10**9)),
        ),
        max_size=40,
    )
)
def test_even_events_out_of_order_never_fail(events: list[Event]) -> None:
    state, _ = run(events)
    controls = [touch.control for touch in state.touches]
    assert len(set(controls)) == len(controls)


@pytest.mark.parametrize("key", [key for key in PanelKey if key is not COMPARE])
def test_every_key_taps_and_holds(key: PanelKey) -> None:
    assert told([KeyDown(0, key), KeyUp(10, key)]) == [(Control(key.value), Kind.TAP, 0)]
    assert told([KeyDown(0, key), Tick(HOLD)]) == [(Control(key.value), Kind.HOLD, 0)]
