"""Virtual players: each note is one period of sound read at a pitch that is known at every sample."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.units import CENTS_PER_OCTAVE, RATE, Samples, gain_of, samples_of
from hardware.simulated.timbres import TABLE, PlayerTimbre, breath, one_period

SETTLED: Final = 3.0
"""Time constants in `settle_s`: by then 95 % of the way is gone."""
VIBRATO_GROWS: Final = 0.4
"""Seconds over which a vibrato grows to its width."""
BREATH_SAMPLES: Final = 1 << 15
TOGETHER_SECONDS: Final = 0.03
"""Players of a section begin within this time of each other."""

Exact = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """A note as it is played: in-tune frequency, first sample, samples until it is let go, and what is wrong with it.

    It begins `cents` off, stays there for `settle_after` seconds and then comes to `settle_to` in `settle_s` seconds,
    fast at first. Vibrato is the largest deviation in cents. `level_db` is RMS at the microphone, before the room adds.
    """

    hz: float
    start: int
    length: int
    cents: float = 0.0
    settle_to: float = 0.0
    settle_s: float = 0.0
    settle_after: float = 0.0
    vibrato: float = 0.0
    vibrato_hz: float = 5.0
    level_db: float = -24.0


def cents_at(note: PlayedNote, seconds: Exact) -> Exact:
    """Cents off the in-tune pitch so many seconds after the note's beginning."""
    late = np.maximum(seconds - note.settle_after, 0.0)
    left = np.exp(-SETTLED * late / note.settle_s) if note.settle_s > 0 else np.where(late > 0, 0.0, 1.0)
    cents: Exact = note.settle_to + (note.cents - note.settle_to) * left
    if note.vibrato:
        grown = np.minimum(seconds / VIBRATO_GROWS, 1.0)
        cents = cents + note.vibrato * grown * np.sin(2.0 * np.pi * note.vibrato_hz * seconds)
    return cents


class Voice:
    """One player on one note.

    Parameters
    ----------
    timbre, note
        What is played, and how.
    generator
        Where the breath noise comes from.
    """

    def __init__(self, timbre: PlayerTimbre, note: PlayedNote, generator: np.random.Generator) -> None:
        self.note = note
        self._attack = max(1, samples_of(timbre.attack))
        self._release = max(1, samples_of(timbre.release))
        self.end = note.start + note.length + self._release
        """First sample after the sound."""
        self._period = one_period(timbre, note.hz)
        self._rise = np.diff(self._period)
        self._breath = breath(timbre, note.hz, BREATH_SAMPLES, generator)
        self._gain = gain_of(note.level_db)
        self._phase = 0.0

    def add_to(self, out: Samples, position: int) -> None:
        """Add to a block, shape (n,), whose first sample is `position`; blocks must be given in order."""
        first = max(self.note.start - position, 0)
        last = min(self.end - position, len(out))
        if first >= last:
            return
        ages = np.arange(position + first, position + last) - self.note.start
        tone = self._tone(ages)
        tone += self._breath[ages % BREATH_SAMPLES]
        tone *= self._envelope(ages)
        out[first:last] += tone

    def _tone(self, ages: NDArray[np.int64]) -> Samples:
        """Read the period at the phase of each sample; the phase is the sum of all that was turned before it."""
        turns = self.note.hz / RATE * np.exp2(cents_at(self.note, ages / RATE) / CENTS_PER_OCTAVE)
        reached = np.cumsum(turns)
        place = (self._phase + reached - turns) % 1.0 * TABLE
        self._phase = float((self._phase + reached[-1]) % 1.0)
        whole = place.astype(np.int32)
        part = (place - whole).astype(np.float32)
        whole %= TABLE  # a phase that rounds up to a whole turn
        return self._period[whole] + part * self._rise[whole]

    def _envelope(self, ages: NDArray[np.int64]) -> Samples | np.float32:
        left = self.note.length + self._release - ages
        if ages[0] >= self._attack and left[-1] > self._release:
            return np.float32(self._gain)
        rise = np.minimum(ages / self._attack, 1.0)
        fall = np.minimum(left / self._release, 1.0)
        shape: Exact = self._gain * np.sin(0.5 * np.pi * rise) ** 2 * np.sin(0.5 * np.pi * fall) ** 2
        return shape.astype(np.float32)


def section(
    timbre: PlayerTimbre, note: PlayedNote, count: int, spread: float, generator: np.random.Generator
) -> tuple[Voice, ...]:
    """Voices of `count` players on one note, together as loud as the note says.

    The first plays it as it stands; the others differ by `spread` cents (standard deviation) and begin a little later.
    """
    level_db = note.level_db - 10.0 * math.log10(count)
    voices = [Voice(timbre, replace(note, level_db=level_db), generator)]
    for off, late in zip(generator.normal(0.0, spread, count - 1), generator.random(count - 1), strict=True):
        start = note.start + samples_of(late * TOGETHER_SECONDS)
        other = replace(note, cents=note.cents + off, settle_to=note.settle_to + off, start=start, level_db=level_db)
        voices.append(Voice(timbre, other, generator))
    return tuple(voices)
