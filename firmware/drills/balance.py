"""Balance: the third begins too loud or too soft, the knob moves it, the class says when it stands where it should."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from firmware.drills._chords import semitones_of_degree
from firmware.drills._drawing import away, drawn
from firmware.drills._sums import middle
from firmware.drills.drill import Answer, Asked, Drill, Phase, Round, Run, Task, Tone
from firmware.music.harmony import tones_of

OFF_DB: Final = (4.0, 12.0)
"""How far from its level the third begins, louder or softer."""

REACH_DB: Final = 18.0


def _draws(task: Task) -> tuple[Asked, ...]:
    semitones = semitones_of_degree(replace(task, degree=3))
    return tuple(Asked(semitones, away(chance, *OFF_DB)) for chance in drawn(task.seed, task.rounds))


def _tones(run: Run) -> tuple[Tone, ...]:
    harmony = run.task.harmony
    off = 0.0 if run.phase is Phase.TOLD else run.value
    moved = replace(harmony, shape="triad", third_db=harmony.third_db + off)
    if run.phase is Phase.PAUSE:
        moved = replace(moved, shape="fifth")
    return tuple((tone.hz, tone.level_db) for tone in tones_of(moved))


def _judges(run: Run, _answer: Answer, at: int) -> Round | None:
    return Round(run.question.semitones, run.question.begins, run.value, run.seconds(at))


def _aim(task: Task) -> str:
    return f"{task.harmony.third_db:+g} dB".replace("-", "−")


def _tells(run: Run) -> tuple[str, str]:
    off = run.rounds[-1].off or 0.0
    where = "there" if round(off) == 0 else f"{abs(round(off))} dB {'loud' if off > 0 else 'soft'}"
    return where, f"third aimed at {_aim(run.task)}"


BALANCE: Final = Drill(
    name="balance",
    draws=_draws,
    kind=lambda task: f"third at {_aim(task)}",
    tones=_tones,
    asks=lambda _run: ("Listen", "how loud is the third?"),
    tells=_tells,
    judges=_judges,
    sums=lambda run: middle(run, "dB"),
    detent=1.0,
    low=-REACH_DB,
    high=REACH_DB,
)
