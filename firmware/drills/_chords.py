"""What drills sound: roots to listen against, and one degree over them."""

from __future__ import annotations

from firmware.drills.drill import Task, Tone
from firmware.music.harmony import Harmony, intervals_of
from firmware.music.intervals import OCTAVE, UNISON, Interval
from firmware.music.modes import MAJOR_SCALE
from firmware.units import ratio_of

THIRD = 3
FIFTH = 7
"""Semitones of the fifth that a third lies in."""


def semitones_of_degree(task: Task) -> int:
    """Semitones of the drilled degree above the tonic, as the mode has it; as major where the mode has all twelve."""
    scale = task.harmony.key.mode.scale
    return (scale if len(scale) == len(MAJOR_SCALE) else MAJOR_SCALE)[task.degree - 1]


def roots(harmony: Harmony) -> tuple[Tone, ...]:
    """The tonic in the lowest octave of the drone and in the one above."""
    return (
        (harmony.hz_of(harmony.octave, UNISON), 0.0),
        (harmony.hz_of(harmony.octave, OCTAVE), harmony.slope_db),
    )


def setting_of(task: Task) -> tuple[Tone, ...]:
    """What a degree is heard against: the tonic, and for a third the fifth that it lies in."""
    harmony = task.harmony
    if task.degree != THIRD:
        return roots(harmony)
    (fifth,) = intervals_of(harmony, FIFTH)
    return (*roots(harmony), (harmony.hz_of(harmony.octave, fifth * OCTAVE), harmony.fifth_db + harmony.slope_db))


def from_lowest(task: Task, semitones: int) -> Interval:
    """Just interval of a degree above the lowest tonic that sounds: it lies in the octave above."""
    (interval,) = intervals_of(task.harmony, semitones)
    return interval * OCTAVE


def degree_tone(task: Task, semitones: int, cents: float) -> Tone:
    """The degree so many cents off its just place."""
    harmony = task.harmony
    levels = {THIRD: harmony.third_db, 5: harmony.fifth_db, 7: harmony.seventh_db}
    level = levels.get(task.degree, harmony.third_db) + harmony.slope_db
    return harmony.hz_of(harmony.octave, from_lowest(task, semitones)) * ratio_of(cents), level
