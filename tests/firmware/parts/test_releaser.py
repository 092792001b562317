"""The stick is let go by a turn to the right, unless a take runs."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from firmware.commands import ReleaseStick
from firmware.events import Adjusted, Event, Noticed
from firmware.parts.part import Follow, Start, address_of
from firmware.parts.releaser import DETENTS, FIELD, PATIENCE, RELEASER, ReleaserState
from firmware.take_events import StickChanged, TakeStarted, TakeStopped


def run(*events: Event, state: ReleaserState | None = None) -> tuple[ReleaserState, list[Follow]]:
    state = RELEASER.start(Start(stick=True)) if state is None else state
    follow: list[Follow] = []
    for event in events:
        state, more = RELEASER.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def turn(*steps: int, at: int = 0) -> list[Adjusted]:
    return [Adjusted(at + number, FIELD, step) for number, step in enumerate(steps)]


def test_the_whole_turn_lets_it_go_and_one_detent_less_does_not() -> None:
    state, follow = run(*turn(*[1] * (DETENTS - 1)))
    assert follow == []
    assert RELEASER.show(state, 0) == {"release_left": 1, "stick_released": False}
    assert run(*turn(1), state=state)[1] == [ReleaseStick()]


def test_a_turn_back_or_a_rest_begins_it_anew() -> None:
    assert run(*turn(1, 1, 1, -1, 1, 1, 1))[1] == []
    state, _ = run(*turn(1, 1, 1))
    assert RELEASER.show(state, PATIENCE + 3)["release_left"] == DETENTS
    assert run(*turn(1, at=PATIENCE + 3), state=state)[1] == []


def test_while_a_take_runs_the_person_is_told_to_stop_it() -> None:
    state, follow = run(TakeStarted(0, 1, 0), *turn(DETENTS))
    assert follow == [Noticed(0, "release-waits")]
    assert run(TakeStopped(1, 1, 1.0, ()), *turn(DETENTS, at=9), state=state)[1] == [ReleaseStick()]


def test_without_a_stick_and_after_it_was_let_go_it_only_says_so() -> None:
    assert run(StickChanged(0, present=False, why="stick-out"), *turn(DETENTS))[1] == [Noticed(0, "stick-out")]
    state, follow = run(StickChanged(0, present=False, why="stick-released"), *turn(DETENTS))
    assert follow == [Noticed(0, "stick-released")]
    assert RELEASER.show(state, 0)["stick_released"]
    state, _ = run(StickChanged(5, present=False), state=state)
    assert state.released
    assert not run(StickChanged(5, present=False, why="stick-out"), state=state)[0].released
    assert run(StickChanged(5, present=True, free_bytes=9), *turn(DETENTS, at=6), state=state)[1] == [ReleaseStick()]


@given(st.lists(st.integers(-3, 3), max_size=40))
def test_what_is_left_of_the_turn_is_always_a_way_to_go(steps: list[int]) -> None:
    state, _ = run(*turn(*steps))
    assert 1 <= RELEASER.show(state, state.at)["release_left"] <= DETENTS
