"""Long tones: to the pulse the drone sounds a tonic, rests for breath, and goes on to the next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from firmware.events import Adjusted, HarmonyChanged, PlanOpened, PlanStepped, PulseChanged, Tick, ToneDue
from firmware.music.keys import Key
from firmware.music.moving.long_tones import tonics_of
from firmware.music.moving.when import Running, followed, next_change
from firmware.music.notes import PitchName
from firmware.parts.part import Follow, Part, Start, planned, turned
from firmware.settings import SETTINGS, Values
from firmware.units import RATE

NAME: Final = "long_tones"
NONE: Final = "none"
AHEAD: Final = RATE // 4
"""A tone is told of so many samples before it is due: five ticks."""

Outcome = tuple["LongTonesState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class LongTonesState:
    """The way through the tonics, which of them is next, whether one sounds, and the pulse that moves it all."""

    values: Values
    key: Key | None = None
    tonics: tuple[PitchName, ...] = ()
    place: int = 0
    sounding: bool = False
    pulse: Running | None = None

    @property
    def wanted(self) -> bool:
        """Whether long tones are asked for."""
        return self.values.text("tonics") != NONE


def _start(start: Start) -> LongTonesState:
    return LongTonesState(start.values.owned(NAME))


def _harmony(state: LongTonesState, event: HarmonyChanged) -> Outcome:
    """Follow the key; a tonic that is not on its way is where the way begins anew."""
    key = event.harmony.key
    before = state.key
    state = replace(state, key=key)
    if before is None or key == before or not state.tonics:
        return state, ()
    near = {state.tonics[(state.place + step) % len(state.tonics)] for step in (-1, 0)}
    return (state if key.tonic in near and key.mode == before.mode else _anew(state)), ()


def _anew(state: LongTonesState) -> LongTonesState:
    """Begin the way with the tonic of the moment; the next change goes on to the second."""
    tonics = () if state.key is None or not state.wanted else tonics_of(state.values.text("tonics"), state.key)
    return replace(state, tonics=tonics, place=1 % max(1, len(tonics)) if state.sounding else 0)


def _pulse(state: LongTonesState, event: PulseChanged) -> Outcome:
    before, pulse = state.pulse, followed(state.pulse, event.run, event.program, event.start)
    state = replace(state, pulse=pulse)
    if pulse is None or (before is not None and before.run == pulse.run):
        return state, ()
    return _tick(_anew(replace(state, sounding=False)), Tick(event.at))


def _tick(state: LongTonesState, event: Tick) -> Outcome:
    """Tell the tone, or the rest, that is due next."""
    pulse = state.pulse
    if pulse is None or pulse.change is None or not state.tonics:
        return state, ()
    due = pulse.due
    if due is None:
        return replace(state, pulse=replace(pulse, change=None)), ()
    if due - event.at > AHEAD:
        return state, ()
    rest = state.values.whole("rest_beats")
    if state.sounding and rest:
        change = next_change(pulse.program, pulse.change, rest)
        return replace(state, sounding=False, pulse=replace(pulse, change=change)), (ToneDue(event.at, "", due),)
    tonic = state.tonics[state.place]
    change = next_change(pulse.program, pulse.change, state.values.whole("tone_beats"))
    state = replace(
        state, sounding=True, place=(state.place + 1) % len(state.tonics), pulse=replace(pulse, change=change)
    )
    return state, (ToneDue(event.at, tonic.plain, due),)


def _with(state: LongTonesState, at: int, values: Values, follow: tuple[Follow, ...]) -> Outcome:
    before, state = state.values, replace(state, values=values)
    if values.text("tonics") == before.text("tonics"):
        return state, follow
    if state.pulse is not None:
        here = state.pulse.here(at)
        state = replace(state, sounding=False, pulse=replace(state.pulse, change=replace(here, bar=here.bar + 1)))
    return _anew(state), follow


def _adjust(state: LongTonesState, event: Adjusted) -> Outcome:
    return _with(state, event.at, *turned(state.values, event))


def _plan(state: LongTonesState, event: PlanStepped | PlanOpened) -> Outcome:
    return _with(state, event.at, *planned(state.values, event))


LONG_TONES = Part(
    name=NAME,
    start=_start,
    handlers={
        HarmonyChanged: _harmony,
        PulseChanged: _pulse,
        Tick: _tick,
        Adjusted: _adjust,
        PlanStepped: _plan,
        PlanOpened: _plan,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
)
