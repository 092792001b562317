"""Takes go by a long turn to the right and by nothing shorter."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.commands import CloseReplay, DeleteTakes
from firmware.events import Adjusted, Event, Noticed, Wish, Wished
from firmware.parts.eraser import DETENTS, ERASER, PATIENCE, EraserState
from firmware.parts.part import Follow, Start, address_of
from firmware.parts.replay import REPLAY
from firmware.take_events import DeletionWished, TakeSaved, TakesDeleted, TakeStarted, TakeStopped


def run(*events: Event, state: EraserState | None = None) -> tuple[EraserState, list[Follow]]:
    """State after some events, and all that followed."""
    state = ERASER.start(Start()) if state is None else state
    follow: list[Follow] = []
    for event in events:
        state, more = ERASER.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def turn(field: str, *steps: int, at: int = 0, apart: int = 4800) -> list[Adjusted]:
    return [Adjusted(at + number * apart, field, each) for number, each in enumerate(steps)]


def left(state: EraserState, at: int) -> dict[str, int]:
    return dict(ERASER.show(state, at)["erase_left"])


@pytest.mark.parametrize(("field", "everything"), [("delete_take", False), ("delete_all", True)])
def test_the_whole_turn_deletes_once_and_one_detent_less_does_not(field: str, *, everything: bool) -> None:
    state, follow = run(*turn(field, *[1] * (DETENTS[field] - 1)))
    assert follow == []
    assert left(state, 0)[field] == 1
    state, follow = run(Adjusted(99_000, field, 1), state=state)
    assert follow == [DeletionWished(99_000, everything)]
    assert left(state, 99_000) == dict(DETENTS)


def test_a_detent_back_a_rest_and_another_field_begin_anew() -> None:
    for between in (turn("delete_take", -1, at=60_000), turn("delete_all", 1, at=60_000)):
        _, follow = run(*turn("delete_take", *[1] * 11), *between, *turn("delete_take", 1, at=70_000))
        assert follow == []
    state, follow = run(*turn("delete_take", *[1] * 11), *turn("delete_take", 1, at=11 * 4800 + PATIENCE))
    assert follow == []
    assert left(state, 0)["delete_take"] == 11
    assert left(state, 10**9) == dict(DETENTS)


@given(st.lists(st.tuples(st.sampled_from(sorted(DETENTS)), st.integers(-3, 3), st.integers(0, PATIENCE))))
def test_nothing_goes_by_fewer_detents_than_it_takes(turns: list[tuple[str, int, int]]) -> None:
    state, at, right = ERASER.start(Start()), 0, 0
    for field, steps, wait in turns:
        at += wait
        right = right + steps if steps > 0 else 0
        state, follow = run(Adjusted(at, field, steps), state=state)
        assert not follow or right >= DETENTS[field]


def test_days_are_turned_and_kept_and_deleted_takes_are_told() -> None:
    _, follow = run(Adjusted(5, "keep_days", 30))
    assert [(one.name, one.value) for one in follow] == [("keep_days", 30)]
    assert run(TakesDeleted(7, 0, 4))[1] == [Noticed(7, "takes-deleted", (("count", "4"),))]


def replayed(*events: Event) -> list[Follow]:
    """What the part of the replay makes of a take that was saved, and of more events."""
    state = REPLAY.start(Start())
    follow: tuple[Follow, ...] = ()
    stopped = (TakeStarted(0, 1, 0), TakeStopped(96_000, 1, 2.0, ()))
    for event in (*stopped, TakeSaved(96_100, 1, 96_000), *events):
        state, follow = REPLAY.handlers[address_of(event)](state, event)
    return [*follow]


def test_the_chosen_take_goes_and_then_there_is_none_to_go() -> None:
    assert replayed(DeletionWished(5)) == [DeleteTakes("rehearsals/0001", 1)]
    assert replayed(DeletionWished(5, everything=True)) == [DeleteTakes()]
    assert replayed(TakesDeleted(6, 1, 1), DeletionWished(7)) == [Noticed(7, "nothing-to-delete")]
    assert replayed(TakesDeleted(6, 2, 1), DeletionWished(7)) == [DeleteTakes("rehearsals/0001", 1)]


def test_a_replay_ends_first_and_a_take_that_runs_is_never_deleted() -> None:
    follow = replayed(Wished(100_000, Wish.REPLAY_TOGGLE), DeletionWished(100_001))
    assert isinstance(follow[0], CloseReplay)
    assert follow[-1] == DeleteTakes("rehearsals/0001", 1)
    for everything in (False, True):
        running = replayed(TakeStarted(100_000, 2, 100_000), DeletionWished(100_001, everything))
        assert running == [Noticed(100_001, "delete-waits")]
