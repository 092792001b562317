"""The cursor: turning adjusts, pushing goes on, and after five seconds a blind turn is a change of key."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from firmware.events import Adjusted, KeyDown, PanelKey, Tick
from firmware.screens.cursor import FALL_BACK, CursorState, open_page, step
from firmware.screens.fields import FIELDS, TONIC, fields_of
from firmware.screens.gestures import Control, Gesture, Kind
from firmware.screens.pages import PAGES

NAMES = [page.name for page in PAGES]


def knob(kind: Kind, at: int = 0, amount: int = 0) -> Gesture:
    """A gesture of the knob."""
    return Gesture(at, Control.KNOB, kind, amount)


def test_a_turn_adjusts_the_field_under_the_cursor() -> None:
    assert step(CursorState(), knob(Kind.TURN, 9, -2))[1] == (Adjusted(9, TONIC, -2),)
    assert step(CursorState("ear", "tolerance"), knob(Kind.TURN, 9, 1))[1] == (Adjusted(9, "tolerance", 1),)


def test_pushing_goes_round_the_fields_of_each_page() -> None:
    for page in NAMES:
        state = open_page(CursorState(), page, 0)
        seen = [state.field]
        for _ in fields_of(page)[1:]:
            state, events = step(state, knob(Kind.PUSH))
            assert events == ()
            seen.append(state.field)
        assert tuple(seen) == fields_of(page)
        assert step(state, knob(Kind.PUSH))[0].field == fields_of(page)[0]


def test_pushing_on_a_page_whose_cursor_fell_back_starts_at_its_first_field() -> None:
    assert step(CursorState("takes", TONIC), knob(Kind.PUSH))[0].field == fields_of("takes")[0]


def test_push_and_turn_goes_through_all_pages_both_ways() -> None:
    state, seen = CursorState(), []
    for _ in NAMES:
        state, events = step(state, knob(Kind.PUSH_TURN, 0, 1))
        assert events == ()
        assert state.field == fields_of(state.page)[0]
        seen.append(state.page)
    assert seen == [*NAMES[1:], NAMES[0]]
    assert step(CursorState(), knob(Kind.PUSH_TURN, 0, -1))[0].page == NAMES[-1]
    assert step(CursorState(), knob(Kind.PUSH_TURN, 0, 3))[0].page == NAMES[3]


def test_after_five_seconds_the_knob_is_the_tonics_again_and_the_page_stays() -> None:
    state = CursorState("ear", "tolerance", last_touched=100)
    assert step(state, Tick(100 + FALL_BACK - 1))[0] == state
    assert step(state, Tick(100 + FALL_BACK))[0] == CursorState("ear", TONIC, 100)


def test_a_late_turn_is_a_key_change_even_without_a_tick() -> None:
    state = CursorState("ear", "tolerance", last_touched=0)
    assert step(state, knob(Kind.TURN, FALL_BACK, 1))[1] == (Adjusted(FALL_BACK, TONIC, 1),)


def test_each_touch_of_the_knob_keeps_the_cursor_where_it_is() -> None:
    state, _ = step(CursorState("chord", "shape"), knob(Kind.TURN, FALL_BACK - 1, 1))
    assert step(state, Tick(2 * FALL_BACK - 2))[0].field == "shape"


def test_other_controls_and_events_leave_the_cursor_alone() -> None:
    state = CursorState("ear", "tolerance")
    for other in (Gesture(9, Control.DRONE, Kind.TAP), KeyDown(9, PanelKey.EAR), knob(Kind.HOLD, 9)):
        assert step(state, other) == (state, ())


@given(
    st.lists(
        st.tuples(
            st.sampled_from([Kind.TURN, Kind.PUSH, Kind.PUSH_TURN]), st.integers(0, FALL_BACK), st.integers(-9, 9)
        ),
        max_size=30,
    )
)
def test_the_cursor_is_always_on_a_field_of_its_page_or_the_tonic(moves: list[tuple[Kind, int, int]]) -> None:
    state, now, turned = CursorState(), 0, 0
    for kind, wait, amount in moves:
        now += wait
        state, events = step(state, knob(kind, now, amount))
        turned += sum(event.steps for event in events if isinstance(event, Adjusted))
        assert state.field in {TONIC, *fields_of(state.page)}
    assert turned == sum(amount for kind, _, amount in moves if kind is Kind.TURN)


def test_every_field_can_be_reached() -> None:
    assert {field.page for field in FIELDS} == set(NAMES)
