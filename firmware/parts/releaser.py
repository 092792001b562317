"""The releaser: a stick is let go by a turn of the knob, so that it can be pulled without a loss."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.commands import ReleaseStick
from firmware.events import Adjusted, Noticed
from firmware.parts.part import Follow, Part, Start
from firmware.take_events import StickChanged, TakeStarted, TakeStopped
from firmware.units import RATE

NAME: Final = "releaser"
FIELD: Final = "stick_release"

DETENTS: Final = 4
"""To the right: more than a brush of the sleeve, less than what deletes a take."""

PATIENCE: Final = 5 * RATE
"""After so long a rest the turn begins anew."""

Outcome = tuple["ReleaserState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class ReleaserState:
    """Whether there is a stick, whether a take runs, whether the stick was let go, and how far the knob has come."""

    stick: bool = False
    taking: bool = False
    released: bool = False
    turned: int = 0
    at: int = 0


def _start(start: Start) -> ReleaserState:
    return ReleaserState(stick=start.stick)


def _adjust(state: ReleaserState, event: Adjusted) -> Outcome:
    gone_on = event.at - state.at <= PATIENCE
    done = max((state.turned if gone_on else 0) + event.steps, 0) if event.steps > 0 else 0
    state = replace(state, turned=done, at=event.at)
    if done < DETENTS:
        return state, ()
    state = replace(state, turned=0)
    if state.released:
        return state, (Noticed(event.at, "stick-released"),)
    if not state.stick:
        return state, (Noticed(event.at, "stick-out"),)
    if state.taking:
        return state, (Noticed(event.at, "release-waits"),)
    return state, (ReleaseStick(),)


def _stick(state: ReleaserState, event: StickChanged) -> Outcome:
    # Between two looks at the stick only the room may have changed, and then nothing is said of the rest.
    released = event.why == "stick-released" or (state.released and not event.present and not event.why)
    return replace(state, stick=event.present, released=released), ()


def _started(state: ReleaserState, _: TakeStarted) -> Outcome:
    return replace(state, taking=True), ()


def _stopped(state: ReleaserState, _: TakeStopped) -> Outcome:
    return replace(state, taking=False), ()


def _show(state: ReleaserState, at: int) -> dict[str, Any]:
    over = at - state.at > PATIENCE
    return {"release_left": DETENTS - (0 if over else state.turned), "stick_released": state.released}


RELEASER: Final = Part(
    name=NAME,
    start=_start,
    handlers={Adjusted: _adjust, StickChanged: _stick, TakeStarted: _started, TakeStopped: _stopped},
    fields=frozenset({FIELD}),
    show=_show,
)
