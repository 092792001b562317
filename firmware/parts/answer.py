"""The answer: the box sounds the in-tune target of the degree that is played, as long as it hears the player."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.events import Adjusted, HarmonyChanged, PlanOpened, PlanStepped, PowerDown, Tick
from firmware.heard_events import AnswerGiven, Answering, AnswerSwitched, Heard
from firmware.music.answer import HIGHEST_HZ, OCTAVES
from firmware.music.harmony import Harmony
from firmware.music.naming import NamedPitch, name_pitch
from firmware.parts.part import Follow, Part, Start, planned, turned
from firmware.settings import SETTINGS, Values
from firmware.sound.snapshot import AnswerSound
from firmware.units import cents_of, samples_of

NAME: Final = "answer"

AGREEING: Final = 2
"""Readings in a row of one degree that it takes to answer, or to go over to another."""

SAME_CENTS: Final = 65.0
"""A player may be so far from the target before another degree is looked for: half a semitone, and some to hold on."""

UNTOLD: Final = samples_of(0.16)
"""Samples for which the answer goes on while the ear can't tell whether the player does."""

LOWEST_LOWERED_HZ: Final = 60.0
"""Notes under this are answered in their own octave: the one below would be a rumble."""

UNHEARD: Final = samples_of(0.5)
"""Samples after which it ends when no reading comes at all, as when a sound card is pulled out."""


@dataclass(frozen=True, slots=True)
class Given:
    """What is being answered: the target, since when, and when the player was last heard on it."""

    target: NamedPitch
    start: int
    heard: int
    hz: float


@dataclass(frozen=True, slots=True)
class AnswerState:
    """Whether players are answered, in what harmony, what sounds, and what the last readings agree on."""

    values: Values
    on: bool = False
    harmony: Harmony | None = None
    given: Given | None = None
    next: NamedPitch | None = None
    agreed: int = 0


Outcome = tuple[AnswerState, tuple[Follow, ...]]


def _start(start: Start) -> AnswerState:
    return AnswerState(start.values.owned(NAME))


def _switch(state: AnswerState, event: AnswerSwitched) -> Outcome:
    state, follow = _stop(state, event.at, "switched off")
    return replace(state, on=event.on), follow


def _heard(state: AnswerState, event: Heard) -> Outcome:
    if not state.on or state.harmony is None:
        return state, ()
    if event.hz is None:
        return _nothing(state, event)
    given = state.given
    if given is not None and abs(cents_of(event.hz / given.target.target_hz)) <= SAME_CENTS:
        return replace(state, given=replace(given, heard=event.at, hz=event.hz), next=None, agreed=0), ()
    named = name_pitch(event.hz, state.harmony)
    if named.target_hz > HIGHEST_HZ:
        return _hold_on(replace(state, next=None, agreed=0), event.at)
    agreed = state.agreed + 1 if state.next is not None and state.next.target_hz == named.target_hz else 1
    state = replace(state, next=named, agreed=agreed)
    if agreed >= AGREEING:
        return _give(state, event, named, event.hz)
    return _hold_on(state, event.at)


def _nothing(state: AnswerState, event: Heard) -> Outcome:
    state = replace(state, next=None, agreed=0)
    return _stop(state, event.at, event.why) if event.why == "silence" else _hold_on(state, event.at)


def _hold_on(state: AnswerState, at: int) -> Outcome:
    """Let the answer go on for a moment that it has not been confirmed in, but no longer: it must never feed itself."""
    if state.given is None or at - state.given.heard <= UNTOLD:
        return state, ()
    return _stop(state, at, "not heard")


def _give(state: AnswerState, event: Heard, named: NamedPitch, hz: float) -> Outcome:
    state, ended = _stop(state, event.at, "another note")
    state = replace(state, given=Given(named, event.at, event.at, hz), next=None, agreed=0)
    return state, (*ended, Answering(event.at, named.degree, named.note))


def _stop(state: AnswerState, at: int, why: str) -> Outcome:
    given = state.given
    if given is None:
        return state, ()
    state = replace(state, given=None, next=None, agreed=0)
    target = given.target
    octave = _octave(state, target.target_hz)
    told = AnswerGiven(at, given.start, target.degree, target.note.text, target.target_hz, octave, why)
    return state, (Answering(at), told)


def _harmony(state: AnswerState, event: HarmonyChanged) -> Outcome:
    given, same = state.given, state.harmony == event.harmony
    state = replace(state, harmony=event.harmony, next=None, agreed=0)
    if given is None or same:
        return state, ()
    # The player goes on: the same pitch has a new target, perhaps a new name.
    named = name_pitch(given.hz, event.harmony)
    return replace(state, given=replace(given, target=named)), (Answering(event.at, named.degree, named.note),)


def _tick(state: AnswerState, event: Tick) -> Outcome:
    if state.given is None or event.at - state.given.heard <= UNHEARD:
        return state, ()
    return _stop(state, event.at, "not heard")


def _adjust(state: AnswerState, event: Adjusted) -> Outcome:
    values, follow = turned(state.values, event)
    return replace(state, values=values), follow


def _plan(state: AnswerState, event: PlanStepped | PlanOpened) -> Outcome:
    values, follow = planned(state.values, event)
    return replace(state, values=values), follow


def _power_down(state: AnswerState, event: PowerDown) -> Outcome:
    return _stop(state, event.at, "power down")


def _sound(state: AnswerState) -> dict[str, Any]:
    if state.given is None:
        return {}
    hz, level = state.given.target.target_hz, state.values.number("answer_level")
    return {"answer": AnswerSound(on=True, hz=hz, octave=_octave(state, hz), level_db=level)}


def _octave(state: AnswerState, hz: float) -> str:
    """The octave that is set; the player's own where the one below is hardly a tone any more."""
    return state.values.text("answer_octave") if hz >= LOWEST_LOWERED_HZ else OCTAVES[0]


ANSWER = Part(
    name=NAME,
    start=_start,
    handlers={
        AnswerSwitched: _switch,
        Heard: _heard,
        HarmonyChanged: _harmony,
        Tick: _tick,
        Adjusted: _adjust,
        PlanStepped: _plan,
        PlanOpened: _plan,
        PowerDown: _power_down,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
    sound=_sound,
)
