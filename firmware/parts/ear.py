"""The ear: names what is heard in the key of the moment, follows held notes, catches the tonic."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Final

from firmware.commands import Listen
from firmware.events import (
    Adjusted,
    HarmonyChanged,
    Heard,
    KeyCaught,
    Noticed,
    PlanStepped,
    PowerDown,
    Tick,
    Wish,
    Wished,
)
from firmware.hearing.held import HeldState, NamedReading, finish, step
from firmware.music.harmony import Harmony, Tone
from firmware.music.intervals import UNISON
from firmware.music.keys import Key, knob_tonics
from firmware.music.naming import beats, name_pitch
from firmware.music.transposition import instrument_named, written
from firmware.parts.part import Follow, Part, Start, planned, turned
from firmware.screens.view import HeardNote, TrailPoint
from firmware.settings import SETTINGS, Values
from firmware.units import CENTS_PER_OCTAVE, RATE, cents_of

NAME: Final = "ear"
TRAIL_SECONDS: Final = 4
FORGET: Final = RATE // 3
"""Samples after which a reading is no longer what is heard now."""
SURE: Final = 0.5
"""Confidence from which a reading may be caught as the tonic."""

Outcome = tuple["EarState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class EarState:
    """What the ear knows: the harmony it judges by, what it hears, and what it heard in the last seconds."""

    values: Values
    on: bool = False
    harmony: Harmony | None = None
    tones: tuple[Tone, ...] = ()
    """The tones that sound now, empty while the drone is off."""
    heard: NamedReading | None = None
    silence: str = ""
    trail: tuple[tuple[int, float], ...] = ()
    """Sample counts, and cents above the tonic folded into one octave."""
    held: HeldState = field(default_factory=HeldState)


def _start(start: Start) -> EarState:
    return EarState(start.values.owned(NAME))


def _next(state: EarState, _event: Wished) -> Outcome:
    on = not state.on
    state, follow = _let_go(state)
    return replace(state, on=on, trail=(), silence=""), (*follow, Listen(on))


def _let_go(state: EarState) -> Outcome:
    held, notes = finish(state.held)
    return replace(state, held=held, heard=None), notes


def _harmony(state: EarState, event: HarmonyChanged) -> Outcome:
    follow: tuple[Follow, ...] = ()
    if event.harmony != state.harmony:
        state, follow = _let_go(state)
    return replace(state, harmony=event.harmony, tones=event.tones if event.sounding else ()), follow


def _heard(state: EarState, event: Heard) -> Outcome:
    if state.harmony is None or not state.on:
        return state, ()
    tolerance = state.values.number("tolerance")
    if event.hz is None:
        held, notes = step(state.held, event.at, None, tolerance)
        return _faded(replace(state, held=held, silence=event.why), event.at), notes
    reading = _named(state, event, event.hz, state.harmony)
    held, notes = step(state.held, event.at, reading, tolerance)
    trail = (*state.trail, (event.at, folded(event.hz, state.harmony)))
    return replace(state, heard=reading, held=held, silence="", trail=trail), notes


def folded(hz: float, harmony: Harmony) -> float:
    """Cents above the tonic, folded into one octave."""
    return cents_of(hz / harmony.hz_of(harmony.octave, UNISON)) % CENTS_PER_OCTAVE


def _named(state: EarState, event: Heard, hz: float, harmony: Harmony) -> NamedReading:
    named = name_pitch(hz, harmony)
    instrument = instrument_named(state.values.text("reading"))
    return NamedReading(
        at=event.at,
        hz=hz,
        confidence=event.confidence,
        degree=named.degree,
        concert=named.note.text,
        written=written(named.note, instrument, harmony.key).text,
        cents=named.cents,
        beats=beats(hz, state.tones, named.degree),
    )


def _faded(state: EarState, at: int) -> EarState:
    if state.heard is not None and at - state.heard.at > FORGET:
        return replace(state, heard=None)
    return state


def _tick(state: EarState, event: Tick) -> Outcome:
    oldest = event.at - TRAIL_SECONDS * RATE
    if state.trail and state.trail[0][0] < oldest:
        state = replace(state, trail=tuple(point for point in state.trail if point[0] >= oldest))
    return _faded(state, event.at), ()


def _catch(state: EarState, event: Wished) -> Outcome:
    if state.harmony is None or state.heard is None or state.heard.confidence < SURE:
        return state, (Noticed(event.at, "nothing-to-catch"),)
    mode = state.harmony.key.mode
    semitones = round(12 * cents_of(state.heard.hz / state.harmony.a4) / CENTS_PER_OCTAVE) + 9
    tonic = next(name for name in knob_tonics(mode, "semitones") if name.semitones == semitones % 12)
    return state, (
        KeyCaught(event.at, Key(tonic, mode)),
        Noticed(event.at, "caught", (("tonic", tonic.text), ("mode", mode.title))),
    )


def _adjust(state: EarState, event: Adjusted) -> Outcome:
    values, follow = turned(state.values, event)
    return _reread(state, values), follow


def _reread(state: EarState, values: Values) -> EarState:
    """Forget the written name of the note that sounds when the reading changes; the next reading brings it again."""
    if values.text("reading") == state.values.text("reading"):
        return replace(state, values=values)
    return replace(state, values=values, heard=None)


def _plan(state: EarState, event: PlanStepped) -> Outcome:
    values, follow = planned(state.values, event)
    return _reread(state, values), follow


def _power_down(state: EarState, _event: PowerDown) -> Outcome:
    return _let_go(state)


def _show(state: EarState, at: int) -> dict[str, Any]:
    badge = instrument_named(state.values.text("reading")).badge
    shown: dict[str, Any] = {"badge": badge, "ear": "watch" if state.on else "off", "silence": state.silence}
    if state.harmony is None or not state.on:
        return shown
    shown["trail"] = tuple(TrailPoint((at - when) / RATE, cents) for when, cents in state.trail)
    if state.heard is not None:
        heard, cents = state.heard, folded(state.heard.hz, state.harmony)
        shown["heard"] = HeardNote(heard.concert, heard.written, heard.degree, heard.cents, heard.beats, cents)
    return shown


EAR = Part(
    name=NAME,
    start=_start,
    handlers={
        Wish.EAR_NEXT: _next,
        Wish.EAR_CATCH: _catch,
        HarmonyChanged: _harmony,
        Heard: _heard,
        Tick: _tick,
        Adjusted: _adjust,
        PlanStepped: _plan,
        PowerDown: _power_down,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
    show=_show,
)
