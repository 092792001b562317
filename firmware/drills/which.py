"""Which is it: a chord sounds just or equal, twelve times in random order, and the class says which."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from firmware.drills._chords import semitones_of_degree
from firmware.drills._drawing import drawn
from firmware.drills._sums import counted
from firmware.drills.drill import Answer, Asked, Drill, Phase, Round, Run, Task, Tone
from firmware.music.harmony import tones_of

ROUNDS: Final = 12
JUST: Final = 1.0
"""A round that sounds just begins at this, an equal one at 0."""

WITH_THIRD: Final = ("triad", "seventh")
"""Shapes of the drone that hold a third, without which the two tunings all but agree."""


def _draws(task: Task) -> tuple[Asked, ...]:
    """Draw each round for itself: nobody can reckon the last ones out, and who guesses is right half the time."""
    semitones = semitones_of_degree(replace(task, degree=3))
    return tuple(Asked(semitones, JUST if chance < 0.5 else 0.0) for chance in drawn(task.seed, ROUNDS))


def _truth(run: Run) -> Answer:
    return Answer.JUST if run.question.begins == JUST else Answer.EQUAL


def _tones(run: Run) -> tuple[Tone, ...]:
    # Silence between two rounds: a chord that went over into the next would tell whether it changes.
    if run.phase is Phase.PAUSE:
        return ()
    harmony = run.task.harmony
    shape = harmony.shape if harmony.shape in WITH_THIRD else WITH_THIRD[0]
    return tuple((one.hz, one.level_db) for one in tones_of(replace(harmony, shape=shape, tuning=_truth(run).value)))


def _judges(run: Run, answer: Answer, at: int) -> Round | None:
    if answer is Answer.NOW:
        return None
    right = answer is _truth(run)
    seconds = run.seconds(at)
    return Round(run.question.semitones, run.question.begins, None, seconds, said=answer.value, right=right)


def _asks(_run: Run) -> tuple[str, str]:
    return "Which is it?", "Drone: just  Compare: equal"


def _tells(run: Run) -> tuple[str, str]:
    last = run.rounds[-1]
    return _truth(run).value, "as you said" if last.right else f"you said {last.said}"


WHICH: Final = Drill(
    name="which-is-it",
    draws=_draws,
    kind=lambda _task: "just or equal",
    tones=_tones,
    asks=_asks,
    tells=_tells,
    judges=_judges,
    sums=lambda run: counted(run, "right"),
    told=2.5,
    pause=1.2,
)
