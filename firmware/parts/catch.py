"""The catch: takes the tonic, or tonic and mode, from the room when the director presses for it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

from firmware.commands import Listen
from firmware.events import HarmonyChanged, Noticed, Tick, Wish, Wished
from firmware.heard_events import Heard, KeyCaught, PartialsHeard
from firmware.hearing.catch import CatchState, Caught, catch, hear_note, hear_partials
from firmware.music.harmony import Harmony
from firmware.parts.part import Follow, Part, Start
from firmware.units import samples_of

NAME: Final = "catch"
SURE: Final = 0.8
"""Confidence from which no second guess is offered."""

LEAST_SURE: Final = 0.4
"""With less than this nothing is taken."""

WAIT: Final = samples_of(5.0)
"""How long it listens for the tonic when the ear was off."""

ENOUGH: Final = samples_of(0.7)
"""A note that was waited for is taken when it has sounded for this long."""

AGAIN: Final = samples_of(8.0)
"""A second press within this takes the second guess."""

AWAKE: Final = samples_of(1.0)
"""The ear is on if it said something so long ago."""

Outcome = tuple["CatchPart", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class CatchPart:
    """What was heard, what was caught last, and until when a tonic is waited for (0 when it is not)."""

    harmony: Harmony | None = None
    heard: CatchState = field(default_factory=CatchState)
    heard_at: int = -AWAKE
    last: Caught | None = None
    last_at: int = 0
    until: int = 0


def _start(_: Start) -> CatchPart:
    return CatchPart()


def _harmony(state: CatchPart, event: HarmonyChanged) -> Outcome:
    return replace(state, harmony=event.harmony), ()


def _note(state: CatchPart, event: Heard) -> Outcome:
    state = replace(state, heard=hear_note(state.heard, event), heard_at=event.at)
    if not state.until:
        return state, ()
    readings = [one for one in state.heard.readings if one.hz is not None]
    if not readings or event.at - readings[0].at < ENOUGH:
        return state, ()
    return _waited(state, event.at, _caught(state, event.at))


def _partials(state: CatchPart, event: PartialsHeard) -> Outcome:
    if state.harmony is None:
        return state, ()
    return replace(state, heard=hear_partials(state.heard, event, state.harmony.a4), heard_at=event.at), ()


def _caught(state: CatchPart, at: int) -> Caught | None:
    if state.harmony is None:
        return None
    caught = catch(state.heard, at, state.harmony.key.mode, state.harmony.a4)
    return caught if caught is not None and caught.confidence >= LEAST_SURE else None


def _press(state: CatchPart, event: Wished) -> Outcome:
    if event.at - state.heard_at > AWAKE:
        state = replace(state, heard=CatchState(), until=event.at + WAIT)
        return state, (Listen(on=True), Noticed(event.at, "catching"))
    caught = _caught(state, event.at)
    return (state, (Noticed(event.at, "nothing-to-catch"),)) if caught is None else _take(state, event.at, caught)


def _take(state: CatchPart, at: int, caught: Caught) -> Outcome:
    """Take a key; when the last one was unsure and the room still says the same, take the other guess."""
    last = state.last
    again = last is not None and at - state.last_at < AGAIN and last.confidence < SURE
    if last is not None and again and caught.key in (last.key, last.second):
        caught = Caught(last.second, last.second_confidence, last.key, last.confidence)
    key = caught.key
    values = (("tonic", key.tonic.text), ("mode", key.mode.title))
    notice = Noticed(at, "caught", values)
    if caught.confidence < SURE:
        sure = (("sure", f"{100 * caught.confidence:.0f}"), ("other", caught.second.text))
        notice = Noticed(at, "caught-unsure", values + sure)
    return replace(state, last=caught, last_at=at), (KeyCaught(at, key, caught.confidence, caught.second), notice)


def _waited(state: CatchPart, at: int, caught: Caught | None) -> Outcome:
    """End the wait for a tonic if there is one now."""
    if caught is None:
        return state, ()
    state, follow = _take(replace(state, until=0, heard_at=at - AWAKE - 1), at, caught)
    return state, (*follow, Listen(on=False))


def _tick(state: CatchPart, event: Tick) -> Outcome:
    if not state.until or event.at < state.until:
        return state, ()
    caught = _caught(state, event.at)
    if caught is not None:
        return _waited(state, event.at, caught)
    state = replace(state, until=0, heard_at=event.at - AWAKE - 1)
    return state, (Noticed(event.at, "nothing-to-catch"), Listen(on=False))


def _next(state: CatchPart, _event: Wished) -> Outcome:
    """The ear's key was tapped: whether it listens is the ear's business now."""
    return replace(state, until=0), ()


CATCH = Part(
    name=NAME,
    start=_start,
    handlers={
        HarmonyChanged: _harmony,
        Heard: _note,
        PartialsHeard: _partials,
        Wish.EAR_CATCH: _press,
        Wish.EAR_NEXT: _next,
        Tick: _tick,
    },
)
