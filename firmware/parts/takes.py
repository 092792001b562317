"""Takes: start and stop with the pre-roll; markers by key, by the plan, after long rests and where it clips."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.commands import AppendLine, CloseTake, MicGain, OpenTake
from firmware.events import Adjusted, Event, Fault, Noticed, PlanStepped, PowerDown, SwitchedOn, Wish, Wished
from firmware.heard_events import LevelRead
from firmware.messages import sentence_of
from firmware.parts.part import Follow, Part, Start, turned
from firmware.passage import take_path
from firmware.settings import SETTINGS, Values
from firmware.take_events import MusicResumed, StickChanged, TakeSaved, TakeStarted, TakeStopped
from firmware.takes.parts import longest_part
from firmware.units import RATE

NAME: Final = "takes"
BYTES_A_MINUTE: Final = 60 * RATE * 3
"""Room a minute of one channel needs at worst: 24 bits a sample, nothing won by compression."""
BOTH: Final = "microphone and box"
"""The source that has the box's own sound on a second channel."""
REPORT: Final = "report.txt"
LOW_MINUTES: Final = (10, 5, 2, 1)
"""Minutes of room left that are worth a warning each."""
CLIP_SPAN: Final = RATE // 10
"""What one reading of the level covers."""
CLIPS_APART: Final = 10 * RATE
"""Clipping this soon after the last is under the same marker."""

Outcome = tuple["TakesState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class Running:
    """The take that is being recorded."""

    number: int
    first: int
    markers: tuple[tuple[float, str], ...] = ()
    clipped_at: int | None = None
    """Where it clipped last."""


@dataclass(frozen=True, slots=True)
class TakesState:
    """Everything about takes."""

    values: Values
    folder: str
    stick: bool = False
    free_bytes: int = 0
    running: Running | None = None
    stopped: tuple[int, ...] = ()
    """Takes that were stopped, but are not yet safe on the stick."""
    count: int = 0
    warned: int | None = None
    """Minutes of room that were warned of last."""

    @property
    def channels(self) -> int:
        """Channels of a new take."""
        return 2 if self.values.text("take_source") == BOTH else 1

    @property
    def free_minutes(self) -> int:
        """Minutes that the stick has room for."""
        return self.free_bytes // (BYTES_A_MINUTE * self.channels)


def _start(start: Start) -> TakesState:
    return TakesState(start.values.owned(NAME), start.folder, stick=start.stick)


def _switched_on(state: TakesState, _event: SwitchedOn) -> Outcome:
    return state, (MicGain(state.values.number("mic_gain")),)


def _toggle(state: TakesState, event: Event) -> Outcome:
    return _stop(state, event) if state.running else _begin(state, event)


def _begin(state: TakesState, event: Event) -> Outcome:
    if not state.stick:
        return state, (Noticed(event.at, "stick-missing"),)
    number = state.count + 1
    first = max(0, event.at - state.values.whole("preroll") * RATE)
    follow: tuple[Follow, ...] = (
        OpenTake(number, take_path(state.folder, number), first, state.channels, _part_samples(state)),
        TakeStarted(event.at, number, first),
        Noticed(event.at, "take-started", (("number", str(number)),)),
    )
    return replace(state, running=Running(number, first), count=number), follow


def _part_samples(state: TakesState) -> int:
    return longest_part(state.channels, state.values.whole("take_part_minutes"))


def _stop(state: TakesState, event: Event) -> Outcome:
    run = state.running
    if run is None:
        return state, ()
    seconds = (event.at - run.first) / RATE
    follow = (CloseTake(run.number, event.at), TakeStopped(event.at, run.number, seconds, run.markers))
    return replace(state, running=None, stopped=(*state.stopped, run.number)), follow


def _mark(state: TakesState, at: int, title: str) -> TakesState:
    run = state.running
    if run is None:
        return state
    marker = ((at - run.first) / RATE, title)
    return replace(state, running=replace(run, markers=(*run.markers, marker)))


def _marker(state: TakesState, event: Wished) -> Outcome:
    if state.running is None:
        return state, (Noticed(event.at, "no-take"),)
    number = len(state.running.markers) + 1
    return _mark(state, event.at, f"Marker {number}"), (Noticed(event.at, "marker", (("number", str(number)),)),)


def _plan(state: TakesState, event: PlanStepped) -> Outcome:
    follow: tuple[Follow, ...] = ()
    if event.take is not None and event.take != (state.running is not None):
        state, follow = _toggle(state, event)
    return _mark(state, event.at, event.marker or event.title), follow


def _saved(state: TakesState, event: TakeSaved) -> Outcome:
    if event.number not in state.stopped:
        return state, ()
    rest = tuple(number for number in state.stopped if number != event.number)
    return replace(state, stopped=rest), (Noticed(event.at, "take-saved", (("number", str(event.number)),)),)


def _resumed(state: TakesState, event: MusicResumed) -> Outcome:
    return _mark(state, event.since, f"After {round(event.rest_seconds)} s of rest"), ()


def _stick(state: TakesState, event: StickChanged) -> Outcome:
    state = replace(state, stick=event.present, free_bytes=event.free_bytes)
    minutes = state.free_minutes
    low = min((one for one in LOW_MINUTES if event.present and minutes <= one), default=None)
    if low is None or low == state.warned:
        return replace(state, warned=low), ()
    worse = state.warned is None or low < state.warned
    if not worse:
        return replace(state, warned=low), ()
    report = AppendLine(REPORT, sentence_of("stick-filling", f"There is room for {minutes} min."))
    return replace(state, warned=low), (Noticed(event.at, "stick-filling", (("minutes", str(minutes)),)), report)


def _clipped(state: TakesState, event: LevelRead) -> Outcome:
    """Mark where the microphone clipped, once for a passage of it."""
    run = state.running
    if run is None or not event.clipped or event.at - CLIP_SPAN < run.first:
        return state, ()
    new = run.clipped_at is None or event.at - run.clipped_at > CLIPS_APART
    if new:
        state = _mark(state, event.at - CLIP_SPAN, "Clipping")
    marked = state.running or run
    follow = (Noticed(event.at, "clipping"),) if new else ()
    return replace(state, running=replace(marked, clipped_at=event.at)), follow


def _fault(state: TakesState, event: Fault) -> Outcome:
    """End a take that there is no room for anywhere."""
    return _stop(state, event) if event.message == "spool-full" else (state, ())


def _adjust(state: TakesState, event: Adjusted) -> Outcome:
    values, follow = turned(state.values, event)
    state = replace(state, values=values)
    if event.field == "mic_gain":
        follow += (MicGain(values.number("mic_gain")),)
    return state, follow


def _show(state: TakesState, at: int) -> dict[str, Any]:
    run = state.running
    return {
        "taking": run is not None,
        "take_number": run.number if run else 0,
        "take_seconds": (at - run.first) / RATE if run else 0.0,
        "markers": len(run.markers) if run else 0,
        "stick": state.stick,
        "free_minutes": state.free_minutes,
    }


TAKES = Part(
    name=NAME,
    start=_start,
    handlers={
        SwitchedOn: _switched_on,
        Wish.TAKE_TOGGLE: _toggle,
        Wish.MARKER_DROP: _marker,
        Wish.REPLAY_TOGGLE: _stop,  # what is recorded must be whole before it can be replayed
        PlanStepped: _plan,
        TakeSaved: _saved,
        MusicResumed: _resumed,
        StickChanged: _stick,
        LevelRead: _clipped,
        Fault: _fault,
        Adjusted: _adjust,
        PowerDown: _stop,
    },
    fields=frozenset(s.name for s in SETTINGS if s.owner == NAME),
    show=_show,
)
