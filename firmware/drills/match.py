"""Match: the box sounds one degree of the scale after the other, and a player takes each over and holds it."""

from __future__ import annotations

from statistics import median
from typing import Final

from firmware.drills._chords import roots
from firmware.drills._sums import counted
from firmware.drills.drill import Answer, Asked, Drill, Phase, Round, Run, Task, Tone
from firmware.music.harmony import intervals_of
from firmware.music.intervals import OCTAVE
from firmware.music.modes import MAJOR_SCALE
from firmware.units import samples_of

CALL_SECONDS: Final = 1.5
OCTAVE_SEMITONES: Final = 12
RINGS: Final = samples_of(0.4)
"""What is heard so soon after the call may be the room that still rings."""


def _draws(task: Task) -> tuple[Asked, ...]:
    """Ask for the scale from the tonic up to its octave; nothing is left to chance."""
    scale = task.harmony.key.mode.scale
    steps = scale if len(scale) == len(MAJOR_SCALE) else tuple(range(12))
    return tuple(Asked(semitones) for semitones in (*steps, 12))


def _tones(run: Run) -> tuple[Tone, ...]:
    task = run.task
    if run.phase is Phase.OPEN and run.question.semitones % OCTAVE_SEMITONES == 0:
        # A player on the box's own pitch can hardly be told from it: the tonic is held against silence.
        return ()
    if run.phase is not Phase.CALL:
        return roots(task.harmony)
    (interval,) = intervals_of(task.harmony, run.question.semitones)
    harmony = task.harmony
    return (*roots(harmony), (harmony.hz_of(harmony.octave, interval * OCTAVE), harmony.fifth_db))


def _outcome(run: Run, at: int, *, right: bool) -> Round:
    since = run.since if run.held is None else run.held
    late = [cents for when, cents in run.heard if when >= since]
    off = median(late) if late and right else None
    return Round(run.question.semitones, 0.0, off, run.seconds(at), right=right)


def _hears(run: Run, at: int) -> Round | None:
    if run.held is None or at - max(run.held, run.since + RINGS) < samples_of(run.task.seconds):
        return None
    return _outcome(run, at, right=True)


def _judges(run: Run, _answer: Answer, at: int) -> Round | None:
    """Go on without it."""
    return _outcome(run, at, right=False)


def _asks(run: Run) -> tuple[str, str]:
    if run.phase is Phase.CALL:
        return "Listen", "listen, then hold it"
    return "Hold", f"hold it ±{run.task.within:g} cents, {run.task.seconds:g} s"


def _kind(task: Task) -> str:
    return f"scale, within {task.within:g} cents for {task.seconds:g} s"


MATCH: Final = Drill(
    name="match",
    draws=_draws,
    kind=_kind,
    tones=_tones,
    asks=_asks,
    tells=_asks,
    judges=_judges,
    sums=lambda run: counted(run, "degrees held"),
    hears=_hears,
    listens=lambda _task: True,
    call=lambda _task: CALL_SECONDS,
    told=0.0,
    pause=0.5,
    names_note=True,
)
