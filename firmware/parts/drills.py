"""The drills: a class answers by ear, the screen gives nothing away, and what came of each round is told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

from firmware.drill_events import DrillBegan, DrillEnded, DrillRound, DrillSounds, DrillWished
from firmware.drills import drill_named
from firmware.drills.course import answered, begun, heard, passed, turned
from firmware.drills.drill import Answer, Phase, Run, Task
from firmware.events import (
    Adjusted,
    Event,
    HarmonyChanged,
    Noticed,
    PlanOpened,
    PlanStepped,
    PowerDown,
    SettingChanged,
    Tick,
    Wish,
    Wished,
)
from firmware.heard_events import Heard
from firmware.music.ensemble import group_text
from firmware.music.harmony import Harmony
from firmware.music.notes import note_at
from firmware.music.transposition import instrument_named, written
from firmware.parts.part import Follow, Part, Start, changed, planned
from firmware.parts.part import turned as turned_setting
from firmware.screens.view import DrillView
from firmware.settings import SETTINGS, Values
from firmware.take_events import ReplayStarted

NAME: Final = "drills"
RUN: Final = "drill_run"
"""Field that begins the chosen drill."""
SLIDE: Final = "drill_slide"
"""What the knob turns during a drill."""

_NAMING_OCTAVE: Final = 4

LATEST: Final = 1 << 40
"""Seeds of one rehearsal lie this far from those of the next: more samples than a rehearsal has."""


@dataclass(frozen=True, slots=True)
class DrillsState:
    """The settings, the harmony of the moment, the drill under way, and what the screen says of the last one."""

    values: Values
    number: int = 1
    reading: str = "concert"
    harmony: Harmony | None = None
    """In just intonation, and without a chord of a progression."""
    run: Run | None = None
    group: str = ""
    """The group that the drill under way is for."""
    last: tuple[str, str] = ("", "")
    """What came of the last one, large and small."""


Outcome = tuple[DrillsState, tuple[Follow, ...]]


def _start(start: Start) -> DrillsState:
    return DrillsState(start.values.owned(NAME), start.number, start.values.text("reading"))


def _group(values: Values) -> str:
    return group_text(values.text("group"), values.whole("group_number"))


def _harmony(state: DrillsState, event: HarmonyChanged) -> Outcome:
    """Follow the key; a drill in another one makes no sense any more."""
    plain = replace(event.harmony, tuning="just", held=None, chord_degree=0)
    if plain == state.harmony:
        return state, ()
    state, follow = _stop(state, event.at)
    return replace(state, harmony=plain), follow


def _wished(state: DrillsState, event: DrillWished) -> Outcome:
    values, follow = changed(state.values, event.at, "chosen_drill", event.drill)
    state, begins = _begin(replace(state, values=values), event.at)
    return state, follow + begins


def _begin(state: DrillsState, at: int) -> Outcome:
    """Begin the chosen drill. Its seed is the moment in which a person asked for it, which nobody can know before."""
    state, ended = _stop(state, at)
    if state.harmony is None:
        return state, ended
    values = state.values
    task = Task(
        harmony=state.harmony,
        seed=state.number * LATEST + at,
        degree=values.whole("drill_degree"),
        rounds=values.whole("drill_rounds"),
        by=values.text("settle_by"),
        within=values.number("match_within"),
        seconds=values.number("match_seconds"),
    )
    run = begun(drill_named(values.text("chosen_drill")), task, at)
    state = replace(state, run=run, group=_group(values), last=("", ""))
    told = DrillBegan(at, run.drill.name, state.group, run.drill.kind(task), len(run.asked), run.drill.listens(task))
    return state, (*ended, told, DrillSounds(at, run.drill.tones(run)))


def _stop(state: DrillsState, at: int) -> Outcome:
    """Break off what is under way; the rounds that were answered are kept."""
    run = state.run
    if run is None:
        return state, ()
    ended = DrillEnded(at, run.drill.name, state.group, len(run.rounds), whole=run.phase is Phase.DONE)
    last = run.drill.sums(run) if run.rounds else ("", "")
    return replace(state, run=None, last=last), (DrillSounds(at, None), ended)


def _gone_on(state: DrillsState, run: Run, at: int) -> Outcome:
    """Take over a run, and tell what is new in it: a round, other tones, the end."""
    before = state.run
    if before is None or run == before:
        return state, ()
    fresh = run.rounds[len(before.rounds) :]
    follow: tuple[Follow, ...] = tuple(
        _round(state, run, number, at) for number in range(len(before.rounds) + 1, len(before.rounds) + len(fresh) + 1)
    )
    state = replace(state, run=run)
    if run.phase is Phase.DONE:
        state, ended = _stop(state, at)
        return state, follow + ended
    if _sounds_otherwise(before, run):
        follow += (DrillSounds(at, run.drill.tones(run)),)
    return state, follow


def _sounds_otherwise(before: Run, run: Run) -> bool:
    """Whether what sounds may have changed; working tones out for each reading of the ear would be too slow."""
    return (before.place, before.phase, before.value) != (run.place, run.phase, run.value)


def _round(state: DrillsState, run: Run, number: int, at: int) -> DrillRound:
    one = run.rounds[number - 1]
    return DrillRound(
        at=at,
        drill=run.drill.name,
        group=state.group,
        kind=run.drill.kind(run.task),
        number=number,
        degree=run.task.harmony.key.label(one.semitones),
        began=one.began,
        off=one.off,
        seconds=one.seconds,
        beats=one.beats,
        said=one.said,
        right=one.right,
    )


def _adjust(state: DrillsState, event: Adjusted) -> Outcome:
    if event.field == SLIDE:
        return (state, ()) if state.run is None else _gone_on(state, turned(state.run, event.steps), event.at)
    if event.field == RUN:
        return _begin(state, event.at) if event.steps > 0 else _stop(state, event.at)
    values, follow = turned_setting(state.values, event)
    return replace(state, values=values), follow


def _answer(answer: Answer) -> Callable[[DrillsState, Wished], Outcome]:
    def handle(state: DrillsState, event: Wished) -> Outcome:
        if state.run is None:
            return state, ()
        run = answered(state.run, answer, event.at)
        if run == state.run and run.phase is Phase.OPEN and run.drill.listens(run.task):
            return state, (Noticed(event.at, "drill-unheard"),)
        return _gone_on(state, run, event.at)

    return handle


def _leave(state: DrillsState, event: Event) -> Outcome:
    return _stop(state, event.at)


def _heard(state: DrillsState, event: Heard) -> Outcome:
    if state.run is None or event.hz is None:
        return state, ()
    return _gone_on(state, heard(state.run, event.at, event.hz), event.at)


def _tick(state: DrillsState, event: Tick) -> Outcome:
    return (state, ()) if state.run is None else _gone_on(state, passed(state.run, event.at), event.at)


def _plan(state: DrillsState, event: PlanStepped | PlanOpened) -> Outcome:
    """Take a step's settings over; a drill that it asks for begins when every part has taken its own."""
    state, ended = _stop(state, event.at)
    values, follow = planned(state.values, event)
    state = replace(state, values=values)
    wished = event.drill if isinstance(event, PlanStepped) else ""
    return state, (*ended, *follow, *((DrillWished(event.at, wished),) if wished else ()))


def _reading(state: DrillsState, event: SettingChanged) -> Outcome:
    return (replace(state, reading=str(event.value)), ()) if event.name == "reading" else (state, ())


def _note_asked(state: DrillsState, run: Run) -> str:
    """Name of the degree that is asked, as the section reads it; empty where that would give the answer away."""
    if not run.drill.names_note:
        return ""
    harmony, semitones = run.task.harmony, run.question.semitones
    note = note_at(harmony.key.spell(semitones), harmony.tonic(_NAMING_OCTAVE).midi + semitones)
    return written(note, instrument_named(state.reading), harmony.key).name.text


def _show(state: DrillsState, _at: int) -> dict[str, Any]:
    run = state.run
    if run is None:
        return {"drill": DrillView(big=state.last[0], small=state.last[1])}
    told = run.phase is Phase.TOLD or (run.phase is Phase.PAUSE and bool(run.drill.told))
    big, small = run.drill.tells(run) if told else run.drill.asks(run)
    note = _note_asked(state, run)
    return {
        "drill": DrillView(
            running=True,
            group=state.group,
            place=run.place + 1,
            rounds=len(run.asked),
            big=big,
            small=small,
            degree=run.task.harmony.key.label(run.question.semitones) if note else "",
            note=note,
        )
    }


DRILLS = Part(
    name=NAME,
    start=_start,
    handlers={
        HarmonyChanged: _harmony,
        Adjusted: _adjust,
        PlanStepped: _plan,
        PlanOpened: _plan,
        DrillWished: _wished,
        Wish.DRILL_NOW: _answer(Answer.NOW),
        Wish.DRILL_JUST: _answer(Answer.JUST),
        Wish.DRILL_EQUAL: _answer(Answer.EQUAL),
        Wish.DRILL_LEAVE: _leave,
        ReplayStarted: _leave,
        Heard: _heard,
        Tick: _tick,
        SettingChanged: _reading,
        PowerDown: _leave,
    },
    fields=frozenset({*(s.name for s in SETTINGS if s.owner == NAME), RUN, SLIDE}),
    show=_show,
)
