"""The light of the screen: its brightness, and that it rests when nobody has touched the box for a while.

The picture of an OLED burns in where it never changes, and the sooner the brighter it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from firmware.commands import Dim
from firmware.events import (
    Adjusted,
    Event,
    KeyDown,
    KnobDown,
    KnobTurn,
    Noticed,
    PedalDown,
    SwitchedOn,
    Tick,
)
from firmware.keyboard_events import NoteOn
from firmware.parts.part import Follow, Part, Start, turned
from firmware.settings import SETTINGS, Values
from firmware.units import RATE

NAME: Final = "light"

RESTING: Final = 1
"""Step of the brightness at which it rests: dark, but a picture that can be read from near by."""

Outcome = tuple["LightState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class LightState:
    """The two settings, when the box was touched last or had something to say, and whether the screen rests."""

    values: Values
    touched: int = 0
    resting: bool = False

    @property
    def step(self) -> int:
        """Brightness as it is set."""
        return self.values.whole("brightness")


def _start(start: Start) -> LightState:
    return LightState(start.values.owned(NAME))


def _switched_on(state: LightState, event: SwitchedOn) -> Outcome:
    return replace(state, touched=event.at), (Dim(state.step),)


def _touched(state: LightState, event: Event) -> Outcome:
    woken: tuple[Follow, ...] = (Dim(state.step),) if state.resting else ()
    return replace(state, touched=event.at, resting=False), woken


def _tick(state: LightState, event: Tick) -> Outcome:
    patience = state.values.whole("screen_rest") * 60 * RATE
    if state.resting or not patience or event.at - state.touched < patience or state.step <= RESTING:
        return state, ()
    return replace(state, resting=True), (Dim(RESTING),)


def _adjust(state: LightState, event: Adjusted) -> Outcome:
    values, follow = turned(state.values, event)
    state = replace(state, values=values)
    return state, ((*follow, Dim(state.step)) if event.field == "brightness" else follow)


LIGHT: Final = Part(
    name=NAME,
    start=_start,
    handlers={
        SwitchedOn: _switched_on,
        KeyDown: _touched,
        KnobTurn: _touched,
        KnobDown: _touched,
        PedalDown: _touched,
        NoteOn: _touched,
        Noticed: _touched,
        Tick: _tick,
        Adjusted: _adjust,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
)
