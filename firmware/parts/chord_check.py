"""The chord check: shows each degree of the chord that is held, and for a while that of the one that was."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.events import Tick, Wish, Wished
from firmware.heard_events import ChordDegree, ChordHeld, ChordRead
from firmware.parts.part import Follow, Part, Start
from firmware.screens.view import ChordLine
from firmware.units import samples_of

NAME: Final = "chord-check"
LINGERS: Final = samples_of(6.0)
"""A chord that has ended is shown for so long: the players are looked at first, the screen after."""

LEVELS: Final = {"soft": 1, "even": 2, "loud": 3}

Outcome = tuple["ChordCheckState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class ChordCheckState:
    """The chord to be shown, and from when it is no longer (0 while it is held)."""

    chord: str = ""
    degrees: tuple[ChordDegree, ...] = ()
    ends: int = 0


def _start(_: Start) -> ChordCheckState:
    return ChordCheckState()


def _read(state: ChordCheckState, event: ChordRead) -> Outcome:
    if event.chord:
        return ChordCheckState(event.chord, event.degrees), ()
    return replace(state, ends=event.at + LINGERS), ()


def _held(_state: ChordCheckState, event: ChordHeld) -> Outcome:
    return ChordCheckState(event.chord, event.degrees, event.at + LINGERS), ()


def _tick(state: ChordCheckState, event: Tick) -> Outcome:
    return (ChordCheckState(), ()) if state.ends and event.at >= state.ends else (state, ())


def _next(_state: ChordCheckState, _event: Wished) -> Outcome:
    return ChordCheckState(), ()


def _show(state: ChordCheckState, _at: int) -> dict[str, Any]:
    lines = tuple(ChordLine(one.degree, one.cents, LEVELS.get(one.level, 0), one.why) for one in state.degrees)
    return {"checked": state.chord, "checked_degrees": lines}


CHORD_CHECK = Part(
    name=NAME,
    start=_start,
    handlers={ChordRead: _read, ChordHeld: _held, Tick: _tick, Wish.EAR_NEXT: _next},
    show=_show,
)
