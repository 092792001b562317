"""Rests: tells when the music begins again after a long one, so that a take gets a marker there."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

from firmware.events import Adjusted, Event, HarmonyChanged, PulseChanged
from firmware.heard_events import LevelRead
from firmware.parts.part import Follow, Part, Start, turned
from firmware.settings import SETTINGS, Values
from firmware.take_events import MusicResumed, ReplayStarted, ReplayStopped
from firmware.takes.rests import RestState, step
from firmware.units import RATE

NAME: Final = "rests"
SPAN: Final = RATE // 10
"""Samples of a level."""

Outcome = tuple["RestsState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class RestsState:
    """What the levels say, and what the box itself sounds."""

    values: Values
    heard: RestState = field(default_factory=RestState)
    sounding: bool = False
    replaying: bool = False


def _start(start: Start) -> RestsState:
    return RestsState(start.values.owned(NAME))


def _level(state: RestsState, event: LevelRead) -> Outcome:
    if state.replaying:
        return state, ()
    heard, resumed = step(state.heard, event.at, event.rms_db, SPAN)
    state = replace(state, heard=heard)
    least = state.values.whole("rest_markers")
    if resumed is None or least == 0 or resumed.rest < least * RATE:
        return state, ()
    return state, (MusicResumed(event.at, resumed.since, round(resumed.rest / RATE, 1)),)


def _harmony(state: RestsState, event: HarmonyChanged) -> Outcome:
    """A drone that comes, goes or moves changes the floor."""
    if not event.sounding and not state.sounding:
        return state, ()
    return replace(state, heard=RestState(), sounding=event.sounding), ()


def _afresh(state: RestsState, _event: Event) -> Outcome:
    return replace(state, heard=RestState()), ()


def _replay(state: RestsState, event: Event) -> Outcome:
    return replace(state, heard=RestState(), replaying=isinstance(event, ReplayStarted)), ()


def _adjust(state: RestsState, event: Adjusted) -> Outcome:
    values, follow = turned(state.values, event)
    return replace(state, values=values), follow


RESTS = Part(
    name=NAME,
    start=_start,
    handlers={
        LevelRead: _level,
        HarmonyChanged: _harmony,
        PulseChanged: _afresh,
        ReplayStarted: _replay,
        ReplayStopped: _replay,
        Adjusted: _adjust,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
)
