"""The pulse: on and off, tapped or turned to its tempo, in any meter and groove, along any ramp."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from statistics import median
from typing import Any, Final

from firmware.events import Adjusted, KeyDown, Noticed, PanelKey, PlanStepped, PulseChanged, Tick, Wish, Wished
from firmware.music.news import next_news
from firmware.music.program import Program
from firmware.parts.part import Follow, Part, Start, changed, planned, turned
from firmware.pulse import Rhythms, chosen, going_on, program_of, same_tempo
from firmware.settings import SETTINGS, Values, setting_named
from firmware.sound.snapshot import PLAIN, PulseSound
from firmware.units import RATE

NAME: Final = "pulse"
TAPS_KEPT: Final = 5
"""The tempo is the median of the last four gaps, so that one bad tap does no harm."""
LONGEST_GAP: Final = 3 * RATE
"""Samples; a longer pause begins a new tempo (20 beats a minute)."""
TENTHS: Final = "tempo_tenths"
"""Field that turns the tempo by tenths."""
HAIR: Final = 1e-9
"""Whole notes that a place may lie before a beat and still count as on it: positions are found from times."""
PHASES: Final = 8
"""Steps in which the screen shows the course of a beat; finer ones would draw it anew for nothing."""

Outcome = tuple["PulseState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class PulseState:
    """The pulse's settings and program, whether it sounds, on which sample its time 0 falls, and the taps so far."""

    values: Values
    rhythms: Rhythms = field(default_factory=Rhythms)
    program: Program = PLAIN
    on: bool = False
    start: float = 0.0
    run: int = 0
    """Number of the start."""
    waiting: bool = False
    """Whether the next press of the key is beat 1."""
    pressed: bool = False
    """Whether that press is down: its release is no tap."""
    taps: tuple[int, ...] = ()
    told: tuple[Program, float] | None = None
    """Program and start that the other parts know of."""

    def seconds(self, at: int) -> float:
        """Time of the program at a sample count."""
        return (at - self.start) / RATE


@dataclass(frozen=True, slots=True)
class Place:
    """Where the pulse stands: position, bar and beat (from 1; 0 before the first beat), part of the beat gone by."""

    position: float = 0.0
    bar: int = 0
    beat: int = 0
    phase: float = 0.0


def place(state: PulseState, at: int) -> Place:
    """Where the pulse stands at a sample count."""
    if not state.on or at < state.start:
        return Place()
    position = state.program.position(state.seconds(at))
    here = Fraction(position + HAIR)
    bar = state.program.bars.number_at(here)
    first, meter = state.program.bars.bar(bar)
    beat, rest = divmod(here - first, meter.beat)
    return Place(position, bar, int(beat) + 1, float(rest / meter.beat))


def _start(start: Start) -> PulseState:
    values = start.values.owned(NAME)
    return PulseState(values, start.rhythms, program_of(values, start.rhythms))


def _begun(state: PulseState, at: float) -> PulseState:
    """Start from the first beat."""
    program = program_of(state.values, state.rhythms)
    return replace(state, program=program, on=True, start=at, run=state.run + 1, waiting=False, taps=())


def _toggle(state: PulseState, event: Wished) -> Outcome:
    if state.pressed:
        return replace(state, pressed=False), ()
    if state.on or state.waiting:
        return replace(state, on=False, waiting=False, taps=()), ()
    if state.values.text("pulse_start") == "next-press":
        return replace(state, waiting=True), (Noticed(event.at, "pulse-waits"),)
    return _begun(state, event.at), ()


def _key(state: PulseState, event: KeyDown) -> Outcome:
    if event.key is not PanelKey.PULSE:
        return state, ()
    if not state.waiting:
        return replace(state, pressed=False), ()
    return replace(_begun(state, event.at), pressed=True), ()


def _tap(state: PulseState, event: Wished) -> Outcome:
    fresh = not state.taps or event.at - state.taps[-1] > LONGEST_GAP
    taps = (event.at,) if fresh else (*state.taps, event.at)[-TAPS_KEPT:]
    if len(taps) < 2:
        return replace(state, taps=taps, on=False, waiting=False), ()
    gap = median(later - earlier for earlier, later in pairwise(taps))
    setting = setting_named("tempo")
    tempo = min(max(round(60.0 * RATE / max(gap, 1), 1), setting.low), setting.high)
    values, follow = changed(state.values, event.at, "tempo", tempo)
    state = _begun(replace(state, values=values), event.at + 60.0 * RATE / tempo)
    # Who taps the tempo has counted in already.
    program = replace(state.program, count_in=0, pickup=Fraction(0))
    return replace(state, program=program, taps=taps), (
        *follow,
        Noticed(event.at, "tempo-set", (("tempo", f"{tempo:g}"),)),
    )


def _retold(before: PulseState, values: Values, at: int) -> PulseState:
    """Take over new settings; a running pulse goes on without a break."""
    if values.entries == before.values.entries:
        return before
    after = replace(before, values=values)
    fresh = program_of(values, before.rhythms)
    if not before.on:
        return replace(after, program=fresh)
    if _is_piece(before) or _is_piece(after):
        chosen_anew = values.text("groove") != before.values.text("groove")
        return _begun(after, _next_bar(before, at)) if chosen_anew else after
    tempo = None if same_tempo(before.values, values) else values.number("tempo")
    if before.program.start >= 0 and at < before.start:
        # Nothing has sounded yet: begin as the settings are now, without the count-in that was left out.
        return replace(after, program=replace(fresh, count_in=0, pickup=Fraction(0)))
    at_once = values.text("tempo_change") == "at-once"
    seconds = max(before.seconds(at), 0.0)
    program, later = going_on(before.program, fresh, seconds, tempo=tempo, at_once=at_once)
    return replace(after, program=program, start=before.start + later * RATE)


def _is_piece(state: PulseState) -> bool:
    return state.rhythms.piece(state.values.text("groove")) is not None


def _next_bar(state: PulseState, at: int) -> float:
    """Sample on which the next bar begins."""
    number = state.program.bar_at(max(state.seconds(at), 0.0)) + 1
    return state.start + state.program.time(state.program.bars.bar(number)[0]) * RATE


def _adjust(state: PulseState, event: Adjusted) -> Outcome:
    values, follow = _turned(state, event)
    values, more = _fitted(state, values, event.at)
    return _retold(state, values, event.at), (*follow, *more)


def _turned(state: PulseState, event: Adjusted) -> tuple[Values, tuple[Follow, ...]]:
    values = state.values
    if event.field == TENTHS:
        setting = setting_named("tempo")
        tempo = round(values.number("tempo") + event.steps / 10, 1)
        return changed(values, event.at, "tempo", min(max(tempo, setting.low), setting.high))
    if event.field == "groove":
        return changed(values, event.at, "groove", chosen(state.rhythms.names, values.text("groove"), event.steps))
    return turned(values, event)


def _fitted(state: PulseState, values: Values, at: int) -> tuple[Values, tuple[Follow, ...]]:
    """Give a groove that was just chosen its own meter."""
    name = values.text("groove")
    groove = state.rhythms.groove(name)
    if groove is None or name == state.values.text("groove"):
        return values, ()
    return changed(values, at, "meter", groove.meter.text)


def _plan(state: PulseState, event: PlanStepped) -> Outcome:
    values, follow = planned(state.values, event)
    if "meter" not in dict(event.values):
        values, more = _fitted(state, values, event.at)
        follow += more
    name = values.text("groove")
    if name != state.values.text("groove") and name not in state.rhythms.names:
        follow += (Noticed(event.at, "groove-unknown", (("name", name),)),)
    return _retold(state, values, event.at), follow


def _tick(state: PulseState, event: Tick) -> Outcome:
    if state.on and state.seconds(event.at) > state.program.seconds:
        state = replace(state, on=False)
    runs = (state.program, state.start) if state.on else None
    if runs == state.told:
        return state, ()
    program, start = runs or (None, state.start)
    return replace(state, told=runs), (PulseChanged(event.at, state.run, program, start),)


def _sound(state: PulseState) -> dict[str, Any]:
    level = state.values.number("pulse_level")
    return {"pulse": PulseSound(state.on, state.start, state.program, state.run, level)}


def _show(state: PulseState, at: int) -> dict[str, Any]:
    program, here = state.program, place(state, at)
    _, meter = program.bars.bar(here.bar)
    shown: dict[str, Any] = {
        "pulse_on": state.on,
        "waiting": state.waiting,
        "bar": here.bar,
        "beat": here.beat,
        "beats": meter.beats,
        "meter": meter.text,
        "meter_groups": meter.groups,
        "beat_value": (program.unit.numerator, program.unit.denominator),
        "tempo": round(program.curve.speed / float(program.unit), 1),
    }
    if not state.on or not here.beat:
        return shown
    return shown | _course(program, here)


def _course(program: Program, here: Place) -> dict[str, Any]:
    """What the screen tells of a pulse that runs."""
    unit = float(program.unit)
    shown: dict[str, Any] = {
        "tempo": round(program.curve.speed_at(here.position + HAIR) / unit, 1),
        "phase": int(here.phase * PHASES) / PHASES,
        "counting": here.bar < 1,
        "silent_bar": program.silent_in(here.bar),
        "next_bar": next_news(program, here.bar),
    }
    ramp = program.curve.ramp_at(here.position + HAIR)
    if ramp is not None:
        begun, stretch = ramp
        shown["ramp"] = round(min(max((here.position - float(begun)) / float(stretch.length), 0.0), 1.0), 2)
        shown["ramp_to"] = round(stretch.end / unit, 1)
    return shown


PULSE = Part(
    name=NAME,
    start=_start,
    handlers={
        Wish.PULSE_TOGGLE: _toggle,
        Wish.PULSE_TAP: _tap,
        KeyDown: _key,
        Adjusted: _adjust,
        PlanStepped: _plan,
        Tick: _tick,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME) | {TENTHS},
    sound=_sound,
    show=_show,
)
