"""Chords that move: the pedal or the pulse leads the drone through a progression."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from firmware.events import (
    Adjusted,
    ChordMoved,
    HarmonyChanged,
    PlanOpened,
    PlanStepped,
    PulseChanged,
    SwitchedOn,
    Tick,
    Wish,
    Wished,
)
from firmware.music.harmony import Harmony
from firmware.music.moving.choices import TunedChord, choice_named
from firmware.music.moving.progression import Held, Progression, held, progression_of
from firmware.music.moving.when import Running, followed, next_change
from firmware.parts.part import Follow, Part, Start, planned, turned
from firmware.settings import SETTINGS, Values
from firmware.units import RATE

NAME: Final = "moving"
NONE: Final = "none"
AHEAD: Final = RATE // 4
"""A chord that the pulse moves is told of so many samples before it is due: five ticks."""

Outcome = tuple["MovingState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class MovingState:
    """The progression in the key of the moment, the chord that it has come to, and the pulse that moves it."""

    values: Values
    harmony: Harmony | None = None
    """The harmony without any chord of ours."""
    progression: Progression = Progression()  # noqa: RUF009 - frozen, so every state may share the one that is empty
    place: int = 0
    tuned: TunedChord | None = None
    pulse: Running | None = None

    @property
    def moves(self) -> bool:
        """Whether there are chords to move through."""
        return bool(self.progression.steps)


def _start(start: Start) -> MovingState:
    return MovingState(start.values.owned(NAME))


def _harmony(state: MovingState, event: HarmonyChanged) -> Outcome:
    plain = replace(event.harmony, held=None, chord_degree=0)
    if plain == state.harmony:
        return state, ()
    return _read(replace(state, harmony=plain), event.at, state.place)


def _read(state: MovingState, at: int, place: int = 0) -> Outcome:
    """Read the progression in the key of the moment, and sound its chord at a place afresh."""
    text = state.values.text("progression")
    if state.harmony is None:
        return state, ()
    if text == NONE:
        if not state.moves:
            return state, ()
        return replace(state, progression=Progression(), place=0, tuned=None), (ChordMoved(at, None),)
    progression = progression_of(text, state.harmony.key)
    fresh = replace(state, progression=progression, place=place % len(progression.steps), tuned=None)
    return _sound(fresh, at, due=0)


def _sound(state: MovingState, at: int, *, due: int) -> Outcome:
    """Tune the chord at the place of the moment after the one before, and tell it."""
    if state.harmony is None:
        return state, ()
    choice = choice_named(state.values.text("stays"))
    found: Held = held(state.progression, state.place, state.harmony, choice, state.tuned)
    last = state.place == len(state.progression.steps) - 1
    return replace(state, tuned=found.tuned), (
        ChordMoved(at, found.chord, due, last=last, by_pedal=state.values.text("chords_by") == "pedal"),
    )


def _next(state: MovingState, event: Wished) -> Outcome:
    if not state.moves or state.values.text("chords_by") != "pedal":
        return state, ()
    return _sound(replace(state, place=state.progression.after(state.place)), event.at, due=0)


def _switched_on(state: MovingState, event: SwitchedOn) -> Outcome:
    return _read(state, event.at)


def _pulse(state: MovingState, event: PulseChanged) -> Outcome:
    """Follow the pulse; every start of it begins the progression again."""
    before, pulse = state.pulse, followed(state.pulse, event.run, event.program, event.start)
    state = replace(state, pulse=pulse)
    if pulse is None or (before is not None and before.run == pulse.run):
        return state, ()
    if not state.moves or state.values.text("chords_by") != "pulse" or state.place == 0:
        return _aimed(state), ()
    state, follow = _sound(replace(state, place=0), event.at, due=0)
    return _aimed(state), follow


def _aimed(state: MovingState) -> MovingState:
    """Find where in the pulse the chord of the moment ends, if a chord is to move by it."""
    pulse = state.pulse
    if pulse is None or pulse.change is None or not state.moves:
        return state
    beats = state.progression.steps[state.place].beats
    return replace(state, pulse=replace(pulse, change=next_change(pulse.program, pulse.change, beats)))


def _tick(state: MovingState, event: Tick) -> Outcome:
    pulse = state.pulse
    if pulse is None or pulse.change is None or not state.moves or state.values.text("chords_by") != "pulse":
        return state, ()
    due = pulse.due
    if due is None:
        return replace(state, pulse=replace(pulse, change=None)), ()
    if due - event.at > AHEAD:
        return state, ()
    state, follow = _sound(replace(state, place=state.progression.after(state.place)), event.at, due=due)
    return _aimed(state), follow


def _with(state: MovingState, at: int, values: Values, follow: tuple[Follow, ...]) -> Outcome:
    """Take over values; another progression begins with its first chord."""
    before, state = state.values, replace(state, values=values)
    if values.text("progression") == before.text("progression"):
        return state, follow
    state, told = _read(state, at)
    if state.pulse is not None:
        state = _aimed(replace(state, pulse=replace(state.pulse, change=state.pulse.here(at))))
    return state, follow + told


def _adjust(state: MovingState, event: Adjusted) -> Outcome:
    return _with(state, event.at, *turned(state.values, event))


def _plan(state: MovingState, event: PlanStepped | PlanOpened) -> Outcome:
    return _with(state, event.at, *planned(state.values, event))


MOVING = Part(
    name=NAME,
    start=_start,
    handlers={
        SwitchedOn: _switched_on,
        HarmonyChanged: _harmony,
        Wish.PLAN_NEXT: _next,
        PulseChanged: _pulse,
        Tick: _tick,
        Adjusted: _adjust,
        PlanStepped: _plan,
        PlanOpened: _plan,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
)
