"""The room part: a turn starts the check, the outcome ends it."""

from __future__ import annotations

from firmware.commands import CheckRoom
from firmware.events import Adjusted, Event, Fault, Noticed, Tick
from firmware.parts.part import Start, address_of
from firmware.parts.room import AFTER, BEFORE, ROOM, SOUNDS, RoomState
from firmware.room_events import RoomChecked
from firmware.units import RATE

FOUND = RoomChecked(400_000, -8.0, 40.0, 0.83, -62.0, 0.0, 0.1, -55.0, clipped=False, removal_db=42.6)
START = Adjusted(1000, "room_check", -1)


def run(*events: Event) -> tuple[RoomState, list[object]]:
    state = ROOM.start(Start())
    follow: list[object] = []
    for event in events:
        state, more = ROOM.handlers[address_of(event)](state, event)
        follow += more
    return state, follow


def test_a_turn_starts_it_once() -> None:
    state, follow = run(START, Adjusted(2000, "room_check", 3))
    assert follow == [CheckRoom(25_000, 1000 + BEFORE + SOUNDS + AFTER), Noticed(1000, "room-check-runs")]
    sweep = ROOM.sound(state)["sweep"]
    assert (sweep.on, sweep.start) == (True, 1000 + BEFORE)
    assert ROOM.show(state, 1000 + BEFORE)["check_seconds"] == 5
    assert ROOM.show(state, 1000)["checking"]


def test_the_outcome_ends_it_and_is_shown() -> None:
    state, follow = run(START, FOUND)
    assert follow[-1] == Noticed(400_000, "room-check-done", (("seconds", "0.8"),))
    assert not ROOM.sound(state)["sweep"].on
    shown = ROOM.show(state, 400_000)
    assert (shown["checking"], shown["room_echo"], shown["room_removal"]) == (False, 0.83, 43)


def test_a_failure_ends_it_too() -> None:
    state, _ = run(START, Fault(5000, "sound-late"))
    assert state.begun == 1000
    state, _ = run(START, Fault(5000, "room-check-failed"))
    assert state.begun is None
    assert ROOM.show(state, 0)["room_removal"] is None


def test_it_is_given_up_when_no_outcome_comes() -> None:
    state, follow = run(START, Tick(10 * RATE))
    assert state.begun == 1000
    state, follow = run(START, Tick(40 * RATE))
    assert state.begun is None
    assert follow[-1] == Noticed(40 * RATE, "room-check-failed")
