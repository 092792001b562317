"""How the players lie against the pulse: bar by bar while it runs, and in all when it has stopped."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.events import PowerDown, PulseChanged, Tick
from firmware.heard_events import BarTimed, Onset, OnsetPlaced, PulseTimed
from firmware.hearing.alignment import Aligned, align, figures, spread_of
from firmware.music.lateness import beat_text
from firmware.music.program import Program
from firmware.parts.part import Follow, Part, Start
from firmware.units import RATE

NAME: Final = "timing"

SETTLED: Final = 1.2
"""Seconds after which every onset of a bar has been told."""

REMEMBERED: Final = 40
"""Onsets before a bar that say where the players are and how the beat is divided."""

MOST_ONSETS: Final = 4000
"""The oldest are forgotten, so that nothing grows without end: half an hour of eighths at 120."""

FEWEST: Final = 4
"""Onsets that a pulse must have had to be told of."""

HALF_BEAT: Final = 0.5

Outcome = tuple["TimingState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class TimingState:
    """The pulse that runs, or that has just stopped, and the onsets that were heard to it."""

    run: int = 0
    program: Program | None = None
    start: float = 0.0
    times: tuple[float, ...] = ()
    """Onsets in seconds of the program, in order."""
    told: int | None = None
    """The last bar that was told."""
    ended: int | None = None
    """Sample on which the pulse stopped."""
    last: BarTimed | None = None
    """What was told last."""

    def seconds(self, at: int) -> float:
        """Time of the program at a sample."""
        return (at - self.start) / RATE


def _start(_: Start) -> TimingState:
    return TimingState()


def _changed(state: TimingState, event: PulseChanged) -> Outcome:
    """Take over another program; a new run first closes the one before."""
    if event.program is None:
        return replace(state, ended=event.at), ()
    if event.run == state.run:
        return replace(state, program=event.program, start=event.start), ()
    _, told = _closed(state, event.at)
    return TimingState(event.run, event.program, event.start), told


def _onset(state: TimingState, event: Onset) -> Outcome:
    if state.program is None:
        return state, ()
    time = state.seconds(event.at - event.late)
    begun = state.program.time(state.program.start) - HALF_BEAT
    over = state.ended is not None and event.at > state.ended
    if time < begun or over or (state.times and time <= state.times[-1]):
        return state, ()
    times = (*state.times, time)[-MOST_ONSETS:]
    one = align(times[-REMEMBERED:], state.program)[-1]
    return replace(state, times=times), (OnsetPlaced(event.at, one.bar, beat_text(one.beat), round(one.ms, 1)),)


def _tick(state: TimingState, event: Tick) -> Outcome:
    if state.program is None:
        return state, ()
    if state.ended is not None and event.at - state.ended > SETTLED * RATE:
        return _closed(state, event.at)
    done = state.program.bar_at(state.seconds(event.at) - SETTLED) - 1
    if state.told is None:
        return replace(state, told=done), ()
    if done <= state.told or state.ended is not None:
        return state, ()
    bars = _bars(state, done, event.at)
    return replace(state, told=done, last=bars[-1] if bars else None), bars


def _bars(state: TimingState, last: int, at: int) -> tuple[BarTimed, ...]:
    """Tell the bars after the last that was told, as far as somebody played in them."""
    if state.program is None or state.told is None:
        return ()
    found = align(state.times[-REMEMBERED:], state.program)
    bars = ([one for one in found if one.bar == bar] for bar in range(state.told + 1, last + 1))
    return tuple(_bar(notes, at) for notes in bars if notes)


def _bar(notes: list[Aligned], at: int) -> BarTimed:
    spread = spread_of([one.ms for one in notes])
    each = tuple((beat_text(one.beat), round(one.ms, 1)) for one in notes)
    return BarTimed(at, notes[0].bar, round(spread.median_ms, 1), round(spread.spread_ms, 1), each)


def _closed(state: TimingState, at: int) -> Outcome:
    """Tell the bars that are left and what the whole run comes to, and forget it."""
    idle = TimingState(run=state.run)
    if state.program is None or len(state.times) < FEWEST:
        return idle, ()
    aligned = align(state.times, state.program)
    result = figures(aligned)
    timed = PulseTimed(
        at,
        start=round(state.start),
        first_bar=aligned[0].bar,
        last_bar=aligned[-1].bar,
        count=len(aligned),
        median_ms=round(result.whole.median_ms, 1),
        spread_ms=round(result.whole.spread_ms, 1),
        drift_percent=None if result.drift_percent is None else round(result.drift_percent, 2),
        beats=tuple((beat_text(beat), round(one.median_ms, 1), round(one.spread_ms, 1)) for beat, one in result.beats),
        free=tuple((one.first_bar, one.last_bar, round(one.percent, 2)) for one in result.free),
    )
    return idle, (*_bars(state, aligned[-1].bar, at), timed)


def _power_down(state: TimingState, event: PowerDown) -> Outcome:
    return _closed(state, event.at)


def _show(state: TimingState, _: int) -> dict[str, Any]:
    return {"lateness_ms": None if state.last is None else state.last.median_ms}


TIMING = Part(
    name=NAME,
    start=_start,
    handlers={PulseChanged: _changed, Onset: _onset, Tick: _tick, PowerDown: _power_down},
    show=_show,
)
