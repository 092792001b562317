"""How the players lay in the bar that a replay has come to: as it was heard when they played it.

The rule: while the pulse runs every onset is heard with the box's own click taken out, and told bar by bar. A replay
shows of each bar what was told then; it is not heard a second time, which could only be worse. Where no pulse ran, or
nobody was heard in a bar, nothing is shown.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.events import PulseChanged
from firmware.heard_events import BarTimed
from firmware.music.program import Program
from firmware.parts.part import Follow, Part, Start
from firmware.take_events import ReplayStarted, ReplayStopped
from firmware.units import RATE

NAME: Final = "replay timing"
MOST_BARS: Final = 4000
"""The oldest are forgotten; at two seconds a bar this is more than two hours."""

Outcome = tuple["ReplayTimingState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar that was played to the pulse: its samples on the clock, its number, how late the players were."""

    first: int
    end: int
    number: int
    late_ms: float


@dataclass(frozen=True, slots=True)
class Run:
    """A pulse since it was started or changed, at a sample."""

    at: int
    number: int
    program: Program
    start: float

    def sample(self, bar: int) -> int:
        """First sample of a bar."""
        return round(self.start + self.program.time(self.program.bars.bar(bar)[0]) * RATE)


@dataclass(frozen=True, slots=True)
class ReplayTimingState:
    """The pulse that runs or ran last and the one before, the bars that were told, and the replay."""

    run: Run | None = None
    before: Run | None = None
    bars: tuple[Bar, ...] = ()
    replay: ReplayStarted | None = None


def _start(_: Start) -> ReplayTimingState:
    return ReplayTimingState()


def _changed(state: ReplayTimingState, event: PulseChanged) -> Outcome:
    """Keep the program of a pulse that stops: its last bars are still to be told."""
    if event.program is None:
        return state, ()
    run = Run(event.at, event.run, event.program, event.start)
    before = state.run if state.run is not None and state.run.number != event.run else state.before
    return replace(state, run=run, before=before), ()


def _bar(state: ReplayTimingState, event: BarTimed) -> Outcome:
    # What is told at the very sample on which a new pulse started is the rest of the one before.
    rest = state.run is not None and state.run.at == event.at and state.before is not None
    run = state.before if rest else state.run
    if run is None:
        return state, ()
    bar = Bar(run.sample(event.bar), run.sample(event.bar + 1), event.bar, event.median_ms)
    return replace(state, bars=(*state.bars, bar)[-MOST_BARS:]), ()


def _replayed(state: ReplayTimingState, event: ReplayStarted) -> Outcome:
    return replace(state, replay=event), ()


def _over(state: ReplayTimingState, _event: ReplayStopped) -> Outcome:
    return replace(state, replay=None), ()


def _show(state: ReplayTimingState, at: int) -> dict[str, Any]:
    replay = state.replay
    if replay is None:
        return {}
    then = replay.origin + replay.passage.place(max(0, at - replay.at))
    bar = next((bar for bar in reversed(state.bars) if bar.first <= then < bar.end), None)
    return {} if bar is None else {"replay_bar": bar.number, "replay_late_ms": bar.late_ms}


REPLAY_TIMING = Part(
    name=NAME,
    start=_start,
    handlers={PulseChanged: _changed, BarTimed: _bar, ReplayStarted: _replayed, ReplayStopped: _over},
    show=_show,
)
