"""The course of a drill: it begins, is turned, answered and heard, and time passes. Pure functions of a run."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from firmware.drills.drill import Answer, Drill, Phase, Round, Run, Task
from firmware.music.harmony import intervals_of
from firmware.units import CENTS_PER_OCTAVE, cents_of, samples_of

KEPT_SECONDS: Final = 12.0
"""Readings are kept for so long: more than a player may have to hold a note."""

NEAR_CENTS: Final = 75.0
"""A reading further from the target, in every octave, is of another note."""

_NAMING_OCTAVE: Final = 4


def begun(drill: Drill, task: Task, at: int) -> Run:
    """A drill with its first question."""
    return _ask(Run(drill, task, drill.draws(task)), 0, at)


def turned(run: Run, steps: int) -> Run:
    """Move the degree by some detents of the knob, as long as it is asked for."""
    if run.phase is not Phase.OPEN or not run.drill.detent:
        return run
    value = run.value + steps * run.drill.detent
    return replace(run, value=min(max(value, run.drill.low), run.drill.high))


def answered(run: Run, answer: Answer, at: int) -> Run:
    """Take what the class says; while a round is told it only goes on to the next one."""
    if run.phase is Phase.TOLD:
        return _after(run, at)
    if run.phase is not Phase.OPEN:
        return run
    outcome = run.drill.judges(run, answer, at)
    return run if outcome is None else _tell(run, outcome, at)


def heard(run: Run, at: int, hz: float) -> Run:
    """Take a reading of the ear; one of another note ends what was held."""
    if run.phase is not Phase.OPEN or at < run.since or not run.drill.listens(run.task):
        return run
    off = off_target(run, hz)
    if abs(off) > NEAR_CENTS:
        return replace(run, held=None, heard=())
    oldest = at - samples_of(KEPT_SECONDS)
    kept = tuple(one for one in run.heard if one[0] >= oldest)
    run = _held(replace(run, heard=(*kept, (at, off))), at)
    outcome = run.drill.hears(run, at)
    return run if outcome is None else _tell(run, outcome, at)


def passed(run: Run, at: int) -> Run:
    """Let time pass: phases that have an end go over to the next one."""
    lasts = _lasts(run)
    if lasts is None or at - run.since < samples_of(lasts):
        return run
    return _open(run, at) if run.phase is Phase.CALL else _after(run, at)


def off_target(run: Run, hz: float) -> float:
    """Cents of a pitch from the degree that is asked, in whichever octave."""
    harmony = run.task.harmony
    (interval,) = intervals_of(harmony, run.question.semitones)
    return math.remainder(cents_of(hz / harmony.hz_of(_NAMING_OCTAVE, interval)), CENTS_PER_OCTAVE)


SMOOTHED: Final = samples_of(0.2)
"""A pitch is judged by the median of so long: a vibrato does not end what is held."""

GAP: Final = samples_of(0.3)
"""A note that was not heard for longer is not held on."""


def _held(run: Run, at: int) -> Run:
    """Since when the player has stayed close, judged by the middle of the last readings."""
    late = [off for when, off in run.heard if when > at - SMOOTHED]
    middle = sorted(late)[len(late) // 2]
    if abs(middle) > run.task.within:
        return replace(run, held=None)
    broken = run.held is None or (len(run.heard) > 1 and at - run.heard[-2][0] > GAP)
    return replace(run, held=at) if broken else run


def _lasts(run: Run) -> float | None:
    """Seconds that the phase lasts; None for one that waits for the class."""
    return {
        Phase.CALL: run.drill.call(run.task),
        Phase.TOLD: run.drill.told,
        Phase.PAUSE: run.drill.pause,
    }.get(run.phase)


def _ask(run: Run, place: int, at: int) -> Run:
    run = replace(run, place=place, phase=Phase.CALL, since=at, heard=(), held=None, value=run.asked[place].begins)
    return run if run.drill.call(run.task) else _open(run, at)


def _open(run: Run, at: int) -> Run:
    return replace(run, phase=Phase.OPEN, since=at)


def _tell(run: Run, outcome: Round, at: int) -> Run:
    run = replace(run, rounds=(*run.rounds, outcome), phase=Phase.TOLD, since=at)
    return run if run.drill.told else _after(run, at)


def _after(run: Run, at: int) -> Run:
    """What comes after a round that was told, or after the pause behind it."""
    if run.place + 1 == len(run.asked):
        return replace(run, phase=Phase.DONE, since=at)
    if run.phase is Phase.TOLD:
        return replace(run, phase=Phase.PAUSE, since=at)
    return _ask(run, run.place + 1, at)
