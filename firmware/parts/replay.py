"""Replay: the list of takes, the place in a take, loops between its markers, slower, at a level that matches."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Final

from firmware.commands import CloseReplay, DeleteTakes, HearReplay, OpenReplay
from firmware.drill_events import DrillBegan
from firmware.events import Adjusted, Event, Noticed, Tick, Wish, Wished
from firmware.parts.part import Follow, Part, Start, turned
from firmware.passage import Passage, take_path
from firmware.room_events import RoomChecked
from firmware.screens.view import TakeLine
from firmware.settings import SETTINGS, Values
from firmware.sound.snapshot import ReplaySound
from firmware.take_events import (
    DeletionWished,
    ReplayEnded,
    ReplayStarted,
    ReplayStopped,
    TakeMeasured,
    TakeSaved,
    TakesDeleted,
    TakeStarted,
    TakeStopped,
)
from firmware.takes.level_match import replay_gain
from firmware.units import RATE

NAME: Final = "replay"
PLACE_SECONDS: Final = 2
"""Seconds that one detent moves the place in a take."""
GRAIN: Final = 3 * RATE // 10
"""Samples that are heard of each place while nothing else is replayed."""
SLOWEST: Final = 50
FULL: Final = 100
SPEED_STEP: Final = 5
"""Speeds in per cent of that of the recording."""
SHORTEST_LOOP: Final = RATE // 4

Outcome = tuple["ReplayState", tuple[Follow, ...]]


@dataclass(frozen=True, slots=True)
class Take:
    """A take that was stopped: its number, first sample on the clock, length in samples, and markers in samples."""

    number: int
    origin: int
    length: int
    markers: tuple[int, ...] = ()

    @property
    def points(self) -> tuple[int, ...]:
        """Where a loop may begin or end: the start, the markers, the end; what is too close to its neighbour is not."""
        points = [0]
        for marker in sorted(self.markers):
            if marker - points[-1] >= SHORTEST_LOOP and self.length - marker >= SHORTEST_LOOP:
                points.append(marker)
        return (*points, self.length)

    @property
    def line(self) -> TakeLine:
        """As the screen lists it."""
        return TakeLine(self.number, self.length / RATE, len(self.markers))

    def point_name(self, point: int) -> str:
        """What the screen calls a point."""
        return "start" if point == 0 else "end" if point == len(self.points) - 1 else str(point)


@dataclass(frozen=True, slots=True)
class Playing:
    """The passage that is heard since sample `at`; a `grain` only lets a place be heard."""

    number: int
    at: int
    passage: Passage
    grain: bool = False


@dataclass(frozen=True, slots=True)
class ReplayState:
    """Everything about what can be heard again."""

    values: Values
    folder: str
    running: TakeStarted | None = None
    stopped: tuple[Take, ...] = ()
    """Stopped, but not yet safe on the stick."""
    saved: tuple[Take, ...] = ()
    measured: dict[int, TakeMeasured] = field(default_factory=dict)
    """Never changed in place."""
    chosen: int = 0
    playing: Playing | None = None
    token: int = 0
    when_saved: bool = False
    place: int = 0
    """Where the next replay begins."""
    loop: tuple[int, int] | None = None
    """Points of the chosen take between which it goes round."""
    speed: int = FULL
    room_db: float | None = None
    """Level of the way from the box to its microphone."""


def _start(start: Start) -> ReplayState:
    return ReplayState(start.values.owned(NAME), start.folder)


# --- takes come and go -------------------------------------------------------------------------------------------


def _take_started(state: ReplayState, event: TakeStarted) -> Outcome:
    return _end(replace(state, running=event), event)


def _take_stopped(state: ReplayState, event: TakeStopped) -> Outcome:
    origin = state.running.first if state.running else event.at - round(event.seconds * RATE)
    take = Take(event.number, origin, round(event.seconds * RATE), tuple(round(at * RATE) for at, _ in event.markers))
    state = replace(state, running=None, stopped=(*state.stopped, take))
    return _chose(state, event.number), ()


def _saved(state: ReplayState, event: TakeSaved) -> Outcome:
    take = _numbered(state.stopped, event.number)
    if take is None:
        return state, ()
    rest = tuple(one for one in state.stopped if one is not take)
    state = _chose(replace(state, stopped=rest), event.number)
    state = replace(state, saved=(*state.saved, replace(take, length=event.samples)))
    return _play(replace(state, when_saved=False), event) if state.when_saved else (state, ())


def _measured(state: ReplayState, event: TakeMeasured) -> Outcome:
    return replace(state, measured={**state.measured, event.number: event}), ()


def _room(state: ReplayState, event: RoomChecked) -> Outcome:
    return replace(state, room_db=event.level_db), ()


def _delete(state: ReplayState, event: DeletionWished) -> Outcome:
    if state.running is not None or state.stopped:
        return state, (Noticed(event.at, "delete-waits"),)
    if event.everything:
        state, over = _end(state, event)
        return state, (*over, DeleteTakes())
    if _numbered(state.saved, state.chosen) is None:
        return state, (Noticed(event.at, "nothing-to-delete"),)
    state, over = _end(state, event)
    return state, (*over, DeleteTakes(state.folder, state.chosen))


def _deleted(state: ReplayState, event: TakesDeleted) -> Outcome:
    saved = tuple(take for take in state.saved if event.number not in {0, take.number})
    state = replace(state, saved=saved)
    if _numbered(saved, state.chosen) is None:
        state = _chose(state, saved[-1].number if saved else 0)
    return state, ()


def _numbered(takes: tuple[Take, ...], number: int) -> Take | None:
    return next((take for take in takes if take.number == number), None)


def _chose(state: ReplayState, number: int) -> ReplayState:
    """Choose a take; what was set for another one does not hold for it."""
    return state if number == state.chosen else replace(state, chosen=number, place=0, loop=None)


# --- play and stop -----------------------------------------------------------------------------------------------


def _toggle(state: ReplayState, event: Wished) -> Outcome:
    if state.running is not None or (state.stopped and state.playing is None):
        return replace(state, when_saved=True), ()
    if state.playing is not None and not state.playing.grain:
        return _end(state, event)
    if not state.saved:
        return state, (Noticed(event.at, "nothing-to-replay"),)
    return _play(state, event)


def _play(state: ReplayState, event: Event, *, grain: bool = False) -> Outcome:
    """Play the chosen take from its place on."""
    take = _numbered(state.saved, state.chosen)
    if take is None:
        return state, ()
    begin, end = (0, 0) if state.loop is None else (take.points[state.loop[0]], take.points[state.loop[1]])
    first = state.place if end == 0 or begin <= state.place < end else begin
    passage = Passage(first, state.speed / FULL, begin, end)
    if grain:
        passage = Passage(state.place, count=GRAIN)
    token = state.token + 1
    state = replace(state, token=token, playing=Playing(take.number, event.at, passage, grain))
    state = state if grain else replace(state, place=0)
    follow: tuple[Follow, ...] = (OpenReplay(take_path(state.folder, take.number), token, passage),)
    if not grain:
        heard = state.values.text("ear_hears") == "replay"
        follow += (HearReplay(heard), ReplayStarted(event.at, take.number, take.origin, passage, heard))
    return state, follow


def _end(state: ReplayState, event: Event) -> Outcome:
    if state.playing is None:
        return state, ()
    over: tuple[Follow, ...] = (CloseReplay(),)
    if not state.playing.grain:
        over += (HearReplay(on=False), ReplayStopped(event.at))
    return replace(state, playing=None), over


def _ended(state: ReplayState, event: ReplayEnded) -> Outcome:
    return _end(state, event) if event.token in {0, state.token} else (state, ())


def _tick(state: ReplayState, event: Tick) -> Outcome:
    take, playing = _played(state), state.playing
    if take is None or playing is None or playing.grain or playing.passage.looped:
        return state, ()
    return _end(state, event) if _place(playing, event.at) >= take.length else (state, ())


def _played(state: ReplayState) -> Take | None:
    return _numbered(state.saved, state.playing.number) if state.playing else None


def _place(playing: Playing, at: int) -> int:
    return playing.passage.place(max(0, at - playing.at))


# --- what the knob turns -----------------------------------------------------------------------------------------


def _adjust(state: ReplayState, event: Adjusted) -> Outcome:
    work = TURNED.get(event.field)
    if work is not None:
        return work(state, event)
    values, follow = turned(state.values, event)
    state, again = _again(replace(state, values=values), event)
    return state, (*follow, *again)


def _again(state: ReplayState, event: Event) -> Outcome:
    """Go on from where the replay is, by what is set now."""
    if state.playing is None or state.playing.grain:
        return state, ()
    return _play(replace(state, place=_place(state.playing, event.at)), event)


def _choose(state: ReplayState, event: Adjusted) -> Outcome:
    if not state.saved:
        return state, ()
    numbers = [take.number for take in state.saved]
    here = numbers.index(state.chosen) if state.chosen in numbers else len(numbers) - 1
    return _chose(state, numbers[min(max(here + event.steps, 0), len(numbers) - 1)]), ()


def _turn_speed(state: ReplayState, event: Adjusted) -> Outcome:
    speed = min(max(state.speed + event.steps * SPEED_STEP, SLOWEST), FULL)
    return (state, ()) if speed == state.speed else _again(replace(state, speed=speed), event)


def _turn_loop_from(state: ReplayState, event: Adjusted) -> Outcome:
    """Before the first point lies "off"; the end of the loop stays where it can."""
    take = _numbered(state.saved, state.chosen)
    if take is None:
        return state, ()
    last = len(take.points) - 1
    begin, end = state.loop or (-1, 0)
    begin = min(max(begin + event.steps, -1), last - 1)
    loop = None if begin < 0 else (begin, min(max(end, begin + 1), last))
    return _looped(state, event, loop)


def _turn_loop_to(state: ReplayState, event: Adjusted) -> Outcome:
    take = _numbered(state.saved, state.chosen)
    if take is None or state.loop is None:
        return state, ()
    begin, end = state.loop
    return _looped(state, event, (begin, min(max(end + event.steps, begin + 1), len(take.points) - 1)))


def _looped(state: ReplayState, event: Event, loop: tuple[int, int] | None) -> Outcome:
    if loop == state.loop:
        return state, ()
    state = replace(state, loop=loop)
    # A loop is one of the chosen take; another one that is heard goes on.
    heard = state.playing is not None and state.playing.number == state.chosen
    return _again(state, event) if heard else (state, ())


def _move_place(state: ReplayState, event: Adjusted) -> Outcome:
    playing = state.playing
    take = _numbered(state.saved, state.chosen) if playing is None or playing.grain else _played(state)
    if take is None:
        return state, ()
    here = state.place if playing is None or playing.grain else _place(playing, event.at)
    wanted = here + event.steps * PLACE_SECONDS * RATE
    place = min(max(wanted, 0), max(take.length - RATE, 0))
    grain = playing is None or playing.grain
    return _play(replace(_chose(state, take.number), place=place), event, grain=grain)


TURNED: Final[Mapping[str, Callable[[ReplayState, Adjusted], Outcome]]] = MappingProxyType(
    {
        "chosen_take": _choose,
        "replay_place": _move_place,
        "replay_speed": _turn_speed,
        "loop_from": _turn_loop_from,
        "loop_to": _turn_loop_to,
    }
)
"""Fields that are no settings: they belong to a take, or shall not outlast the rehearsal."""


# --- what is heard and seen --------------------------------------------------------------------------------------


def _sound(state: ReplayState) -> dict[str, Any]:
    return {"replay": ReplaySound(on=state.playing is not None, token=state.token, level_db=_gain(state))}


def _gain(state: ReplayState) -> float:
    number = state.playing.number if state.playing else state.chosen
    measured = state.measured.get(number)
    if measured is None:
        return 0.0
    room_db = state.room_db if state.values.text("replay_match") == "as-it-was" else None
    return replay_gain(measured.lufs, measured.peak, state.values.number("replay_level"), room_db)


def _show(state: ReplayState, at: int) -> dict[str, Any]:
    playing = state.playing
    take = _numbered(state.saved, state.chosen)
    loop = ("", "")
    if take is not None and state.loop is not None:
        loop = take.point_name(state.loop[0]), take.point_name(state.loop[1])
    return {
        "replaying": playing.number if playing else 0,
        "replay_seconds": _place(playing, at) / RATE if playing else 0.0,
        "replay_speed": state.speed,
        "loop": loop,
        "takes": tuple(one.line for one in state.saved),
        "chosen_take": state.chosen,
    }


REPLAY = Part(
    name=NAME,
    start=_start,
    handlers={
        Wish.REPLAY_TOGGLE: _toggle,
        TakeStarted: _take_started,
        TakeStopped: _take_stopped,
        TakeSaved: _saved,
        TakeMeasured: _measured,
        DeletionWished: _delete,
        TakesDeleted: _deleted,
        ReplayEnded: _ended,
        DrillBegan: _end,
        RoomChecked: _room,
        Adjusted: _adjust,
        Tick: _tick,
    },
    fields=frozenset({s.name for s in SETTINGS if s.owner == NAME} | TURNED.keys()),
    sound=_sound,
    show=_show,
)
