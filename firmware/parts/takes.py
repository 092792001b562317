"""Takes: start and stop with the pre-roll, markers, the list, and replay."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.commands import CloseReplay, CloseTake, MicGain, OpenReplay, OpenTake
from firmware.events import Adjusted, Event, Noticed, PlanStepped, PowerDown, SwitchedOn, Tick, Wish, Wished
from firmware.parts.part import Follow, Part, Start, turned
from firmware.screens.view import TakeLine
from firmware.settings import SETTINGS, Values
from firmware.sound.snapshot import ReplaySound
from firmware.take_events import ReplayEnded, StickChanged, TakeSaved, TakeStarted, TakeStopped
from firmware.units import RATE

NAME: Final = "takes"
PLACE_SECONDS: Final = 2
"""Seconds that one detent moves the place in a replayed take."""
BYTES_A_MINUTE: Final = 60 * RATE * 3
"""Room a minute needs at worst: 24 bits a sample, nothing won by compression."""

Outcome = tuple["TakesState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class Running:
    """The take that is being recorded."""

    number: int
    first: int
    markers: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Replaying:
    """The take that is being replayed; sample `first` of it sounded at sample `at` of the box's clock."""

    number: int
    at: int
    first: int


@dataclass(frozen=True, slots=True)
class TakesState:
    """Everything about takes."""

    values: Values
    folder: str
    stick: bool = False
    free_bytes: int = 0
    running: Running | None = None
    stopped: tuple[TakeLine, ...] = ()
    """Stopped, but not yet safe on the stick."""
    saved: tuple[TakeLine, ...] = ()
    chosen: int = 0
    replaying: Replaying | None = None
    token: int = 0
    replay_when_saved: bool = False
    count: int = 0


def take_path(folder: str, number: int) -> str:
    """Path of a take's sound on the stick."""
    return f"{folder}/take-{number:02d}.flac"


def _start(start: Start) -> TakesState:
    return TakesState(start.values.owned(NAME), start.folder, stick=start.stick)


def _switched_on(state: TakesState, _event: SwitchedOn) -> Outcome:
    return state, (MicGain(state.values.number("mic_gain")),)


def _toggle(state: TakesState, event: Event) -> Outcome:
    return _stop(state, event) if state.running else _begin(state, event)


def _begin(state: TakesState, event: Event) -> Outcome:
    if not state.stick:
        return state, (Noticed(event.at, "stick-missing"),)
    state, closed = _end_replay(state, event)
    number = state.count + 1
    first = max(0, event.at - state.values.whole("preroll") * RATE)
    follow: tuple[Follow, ...] = (
        OpenTake(number, take_path(state.folder, number), first),
        TakeStarted(event.at, number, first),
        Noticed(event.at, "take-started", (("number", str(number)),)),
    )
    return replace(state, running=Running(number, first), count=number), closed + follow


def _stop(state: TakesState, event: Event) -> Outcome:
    run = state.running
    if run is None:
        return state, ()
    seconds = (event.at - run.first) / RATE
    line = TakeLine(run.number, seconds, len(run.markers))
    follow = (CloseTake(run.number, event.at), TakeStopped(event.at, run.number, seconds, run.markers))
    return replace(state, running=None, stopped=(*state.stopped, line), chosen=run.number), follow


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
    line = next((take for take in state.stopped if take.number == event.number), None)
    if line is None:
        return state, ()
    line = replace(line, seconds=event.samples / RATE)
    rest = tuple(take for take in state.stopped if take.number != event.number)
    state = replace(state, stopped=rest, saved=(*state.saved, line), chosen=event.number)
    notice = Noticed(event.at, "take-saved", (("number", str(event.number)),))
    if not state.replay_when_saved:
        return state, (notice,)
    state, follow = _play(replace(state, replay_when_saved=False), event, event.number, 0)
    return state, (notice, *follow)


def _replay(state: TakesState, event: Wished) -> Outcome:
    if state.running is not None:
        state, follow = _stop(state, event)
        return replace(state, replay_when_saved=True), follow
    if state.replaying is not None:
        return _end_replay(state, event)
    if state.stopped:
        return replace(state, replay_when_saved=True), ()
    if not state.saved:
        return state, (Noticed(event.at, "nothing-to-replay"),)
    return _play(state, event, state.chosen, 0)


def _play(state: TakesState, event: Event, number: int, first: int) -> Outcome:
    token = state.token + 1
    state = replace(state, token=token, replaying=Replaying(number, event.at, first))
    return state, (OpenReplay(take_path(state.folder, number), first, token),)


def _end_replay(state: TakesState, _event: Event) -> Outcome:
    if state.replaying is None:
        return state, ()
    return replace(state, replaying=None), (CloseReplay(),)


def _tick(state: TakesState, event: Tick) -> Outcome:
    line = _replayed(state)
    over = line is not None and state.replaying is not None and _place(state.replaying, event.at) >= line.seconds * RATE
    return _end_replay(state, event) if over else (state, ())


def _replayed(state: TakesState) -> TakeLine | None:
    number = state.replaying.number if state.replaying else 0
    return next((take for take in state.saved if take.number == number), None)


def _stick(state: TakesState, event: StickChanged) -> Outcome:
    return replace(state, stick=event.present, free_bytes=event.free_bytes), ()


def _adjust(state: TakesState, event: Adjusted) -> Outcome:
    if event.field == "chosen_take":
        return _choose(state, event.steps), ()
    if event.field == "replay_place":
        return _move_place(state, event)
    values, follow = turned(state.values, event)
    state = replace(state, values=values)
    if event.field == "mic_gain":
        follow += (MicGain(values.number("mic_gain")),)
    return state, follow


def _choose(state: TakesState, steps: int) -> TakesState:
    if not state.saved:
        return state
    numbers = [take.number for take in state.saved]
    here = numbers.index(state.chosen) if state.chosen in numbers else len(numbers) - 1
    return replace(state, chosen=numbers[min(max(here + steps, 0), len(numbers) - 1)])


def _place(replaying: Replaying, at: int) -> int:
    return replaying.first + at - replaying.at


def _move_place(state: TakesState, event: Adjusted) -> Outcome:
    line = _replayed(state)
    if state.replaying is None or line is None:
        return state, ()
    wanted = _place(state.replaying, event.at) + event.steps * PLACE_SECONDS * RATE
    first = min(max(wanted, 0), max(round(line.seconds * RATE) - RATE, 0))
    return _play(state, event, state.replaying.number, first)


def _sound(state: TakesState) -> dict[str, Any]:
    return {"replay": ReplaySound(on=state.replaying is not None, token=state.token)}


def _show(state: TakesState, at: int) -> dict[str, Any]:
    run, replaying = state.running, state.replaying
    return {
        "taking": run is not None,
        "take_number": run.number if run else 0,
        "take_seconds": (at - run.first) / RATE if run else 0.0,
        "markers": len(run.markers) if run else 0,
        "replaying": replaying.number if replaying else 0,
        "replay_seconds": _place(replaying, at) / RATE if replaying else 0.0,
        "takes": state.saved,
        "chosen_take": state.chosen,
        "stick": state.stick,
        "free_minutes": state.free_bytes // BYTES_A_MINUTE,
    }


TAKES = Part(
    name=NAME,
    start=_start,
    handlers={
        SwitchedOn: _switched_on,
        Wish.TAKE_TOGGLE: _toggle,
        Wish.MARKER_DROP: _marker,
        Wish.REPLAY_TOGGLE: _replay,
        PlanStepped: _plan,
        TakeSaved: _saved,
        ReplayEnded: _end_replay,
        StickChanged: _stick,
        Adjusted: _adjust,
        Tick: _tick,
        PowerDown: _stop,
    },
    fields=frozenset({s.name for s in SETTINGS if s.owner == NAME} | {"chosen_take", "replay_place"}),
    sound=_sound,
    show=_show,
)
