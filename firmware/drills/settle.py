"""Settle: a degree begins off its place, the knob or a player moves it, the class says when it rests."""

from __future__ import annotations

from statistics import median
from typing import Final

from firmware.drills._chords import degree_tone, from_lowest, semitones_of_degree, setting_of
from firmware.drills._drawing import away, drawn
from firmware.drills._sums import middle
from firmware.drills.drill import Answer, Asked, Drill, Phase, Round, Run, Task, Tone
from firmware.music.beating import beats_of
from firmware.music.intervals import UNISON
from firmware.units import samples_of

OFF_CENTS: Final = (12.0, 45.0)
"""How far off a round begins, in either direction: enough to be heard, less than half a semitone."""

REACH_CENTS: Final = 60.0
CALL_SECONDS: Final = 3.0
LISTENED: Final = samples_of(1.0)
"""What a player sounds is the middle of the readings of so long before the class says when."""

FEWEST: Final = 5
"""Readings without which nobody was heard."""


def _draws(task: Task) -> tuple[Asked, ...]:
    semitones = semitones_of_degree(task)
    return tuple(Asked(semitones, away(chance, *OFF_CENTS)) for chance in drawn(task.seed, task.rounds))


def _by_player(task: Task) -> bool:
    return task.by == "player"


def _kind(task: Task) -> str:
    return f"degree {task.harmony.key.label(semitones_of_degree(task))} by the {task.by}"


def _tones(run: Run) -> tuple[Tone, ...]:
    base = setting_of(run.task)
    if run.phase is Phase.PAUSE or (run.phase is Phase.OPEN and _by_player(run.task)):
        return base
    # What it should have been is heard while the round is told.
    cents = 0.0 if run.phase is Phase.TOLD else run.value
    return (*base, degree_tone(run.task, run.question.semitones, cents))


def _judges(run: Run, _answer: Answer, at: int) -> Round | None:
    off = run.value
    if _by_player(run.task):
        late = [cents for when, cents in run.heard if when > at - LISTENED]
        if len(late) < FEWEST:
            return None
        off = median(late)
    harmony, semitones = run.task.harmony, run.question.semitones
    lowest = harmony.hz_of(harmony.octave, UNISON)
    beats = beats_of(lowest, from_lowest(run.task, semitones), off)
    return Round(semitones, run.question.begins, off, run.seconds(at), beats)


def _asks(run: Run) -> tuple[str, str]:
    if run.phase is Phase.CALL:
        return "Listen", "then take it over"
    return "Listen", "say when it rests"


def _tells(run: Run) -> tuple[str, str]:
    last = run.rounds[-1]
    off = last.off or 0.0
    beats = () if last.beats is None else (f"{last.beats:.1f} beats/s",)
    if round(off) == 0:
        return "just", ", ".join(beats)
    return f"{round(off):+d}".replace("-", "−"), ", ".join(("cents from just", *beats))


SETTLE: Final = Drill(
    name="settle",
    draws=_draws,
    kind=_kind,
    tones=_tones,
    asks=_asks,
    tells=_tells,
    judges=_judges,
    sums=lambda run: middle(run, "cents"),
    listens=_by_player,
    call=lambda task: CALL_SECONDS if _by_player(task) else 0.0,
    told=4.0,
    detent=1.0,
    low=-REACH_CENTS,
    high=REACH_CENTS,
)
