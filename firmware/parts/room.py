"""The room check: plays the test signal when its field is turned, and keeps what was learned."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.commands import CheckRoom
from firmware.events import Adjusted, Event, Fault, Noticed, Tick
from firmware.parts.part import Follow, Part, Start
from firmware.room_events import RoomChecked
from firmware.sound.snapshot import SweepSound
from firmware.sound.sweep import REPEATS, SWEEP_SECONDS
from firmware.units import RATE

NAME: Final = "room"
FIELD: Final = "room_check"
"""The field on the room page that starts it, whichever way it is turned."""

BEFORE: Final = round(2.0 * RATE)
"""Samples of silence before the test signal: the room rings out, then its noise is measured."""
SOUNDS: Final = round(REPEATS * SWEEP_SECONDS * RATE)
AFTER: Final = round(1.5 * RATE)
"""Samples after it: the echo, and the way through the sound card."""
OVERDUE: Final = 15 * RATE
"""So long after its end the check is given up, when no outcome came (the sound card was pulled out, say)."""

Outcome = tuple["RoomState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class RoomState:
    """Since when a check runs, and what the last one found."""

    begun: int | None = None
    found: RoomChecked | None = None


def _start(_start: Start) -> RoomState:
    return RoomState()


def _adjust(state: RoomState, event: Adjusted) -> Outcome:
    if state.begun is not None:
        return state, ()
    end = event.at + BEFORE + SOUNDS + AFTER
    # The first half second still holds the echo of what sounded before.
    follow = (CheckRoom(event.at + RATE // 2, end), Noticed(event.at, "room-check-runs"))
    return replace(state, begun=event.at), follow


def _checked(state: RoomState, event: RoomChecked) -> Outcome:
    echo = "" if event.rt60_s is None else f"{event.rt60_s:.1f}"
    return replace(state, begun=None, found=event), (Noticed(event.at, "room-check-done", (("seconds", echo),)),)


def _failed(state: RoomState, event: Fault) -> Outcome:
    return (replace(state, begun=None), ()) if event.message == "room-check-failed" else (state, ())


def _tick(state: RoomState, event: Event) -> Outcome:
    late = state.begun is not None and event.at - state.begun > BEFORE + SOUNDS + AFTER + OVERDUE
    return (replace(state, begun=None), (Noticed(event.at, "room-check-failed"),)) if late else (state, ())


def _sound(state: RoomState) -> dict[str, Any]:
    if state.begun is None:
        return {"sweep": SweepSound()}
    return {"sweep": SweepSound(on=True, start=state.begun + BEFORE)}


def _show(state: RoomState, at: int) -> dict[str, Any]:
    left = 0 if state.begun is None else state.begun + BEFORE + SOUNDS + AFTER - at
    found = state.found
    return {
        "checking": state.begun is not None,
        "check_seconds": max(0, -(-left // RATE)),
        "room_echo": found.rt60_s if found is not None else None,
        "room_removal": round(found.removal_db) if found is not None else None,
    }


ROOM = Part(
    name=NAME,
    start=_start,
    handlers={Adjusted: _adjust, RoomChecked: _checked, Fault: _failed, Tick: _tick},
    fields=frozenset({FIELD}),
    sound=_sound,
    show=_show,
)
