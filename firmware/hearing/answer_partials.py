"""What a player sounds on the partials that an answer leaves free: level and pitch, every ten milliseconds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal

STEP: Final = 120
"""Samples of the slow stream between two looks: 10 ms."""

LOOKS: Final = 8
"""Looks at a time: this hop's four and the four before, whose phases give the pitch."""

SHORTEST: Final = 512
LONGEST: Final = 1_000
PERIODS: Final = 5.0
"""A window holds so many periods, within these bounds: its lobe ends before a line half the pitch away."""

MOST: Final = 10
LEAST: Final = 3
LOW_HZ: Final = 1_000.0
TOP_HZ: Final = 5_000.0
"""Of a player the first three partials are looked at, and up to ten under 1 kHz: a vibrato smears those above."""

CLEAR_LOBES: Final = 1.1
"""A partial is free when a line of ours is further off than this many half lobes."""

MOST_BEND: Final = 0.03
"""A pitch that seems to be further off than this, half a semitone, is another note."""


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """Looks at one pitch, oldest first.

    `power` is the mean square on each free partial, shape (looks, partials); `own` that on our own lines, shape
    (looks,); `noise` what one partial would have by noise alone; `hz` the pitch as the phases turn, None where they
    say nothing.
    """

    numbers: NDArray[np.int64]
    power: NDArray[np.float64]
    own: NDArray[np.float64]
    noise: float
    hz: float | None

    @property
    def total(self) -> NDArray[np.float64]:
        """Mean square on all free partials, shape (looks,)."""
        total: NDArray[np.float64] = self.power.sum(axis=1)
        return total


def window_of(hz: float, rate: float) -> int:
    """Samples of the window in which a pitch is looked at."""
    return min(LONGEST, max(SHORTEST, int(PERIODS * rate / hz)))


def free_partials(hz: float, lines: Signal, rate: float, length: int) -> NDArray[np.int64]:
    """Numbers of the partials of a pitch that lie clear of all lines."""
    count = min(max(LEAST, min(MOST, int(LOW_HZ / hz))), max(1, int(TOP_HZ / hz)))
    numbers = np.arange(1, count + 1)
    if not len(lines):
        return numbers
    away = np.abs(hz * numbers[:, None] - lines).min(axis=1)
    free: NDArray[np.int64] = numbers[away > CLEAR_LOBES * 2 * rate / length]
    return free


def look(sound: Signal, hz: float, lines: Signal, own: Signal, rate: float) -> Looks | None:
    """Look at a pitch at the end of a stretch of sound.

    Parameters
    ----------
    sound : Signal
        Without the drone, with the answer, shape (n,); n at least `LONGEST + (LOOKS - 1) * STEP`.
    hz : float
        Pitch of the player, about.
    lines, own : Signal
        Frequencies of ours that may be heard, and those of the answer that sounds now.
    rate : float
        Samples per second.

    Returns
    -------
    Looks or None
        None when no partial of the pitch is free.

    Notes
    -----
    Hann windows; the power of a sinusoid comes out as its mean square. The pitch is the slope of the phases over the
    looks, partial by partial, weighted as their noise asks for (power times the number squared).
    """
    length = window_of(hz, rate)
    numbers = free_partials(hz, lines, rate, length)
    if not len(numbers):
        return None
    between = _between(hz, numbers, lines, CLEAR_LOBES * 2 * rate / length)
    wanted = np.concatenate([hz * numbers, between, own])
    ends = len(sound) - STEP * np.arange(LOOKS - 1, -1, -1)
    frames = np.stack([sound[end - length : end] for end in ends])
    window = np.hanning(length + 1)[:-1]
    turns = np.exp(-2j * np.pi / rate * np.outer(np.arange(length), wanted))
    bins: NDArray[np.complex128] = np.asarray((frames * window) @ turns, dtype=np.complex128)
    power = 2.0 * np.abs(bins / window.sum()) ** 2
    first, second = len(numbers), len(numbers) + len(between)
    noise = float(np.median(power[:, first:second])) if len(between) else 0.0
    place = ends[:, None] / rate * (hz * numbers)
    return Looks(
        numbers,
        power[:, :first],
        power[:, second:].sum(axis=1),
        noise,
        _pitch(np.asarray(bins[:, :first] * np.exp(-2j * np.pi * place)), power[:, :first], noise, numbers, hz, rate),
    )


def _between(hz: float, numbers: NDArray[np.int64], lines: Signal, clear: float) -> NDArray[np.float64]:
    """Frequencies beside the partials that lie clear of them and of all lines, where there is only noise."""
    places: NDArray[np.float64] = hz * np.unique(np.concatenate([numbers - 0.5, numbers - 0.3, numbers + 0.3]))
    partials = hz * np.arange(0.0, numbers[-1] + 2.0)
    known = np.concatenate([partials[1:], lines])
    free: NDArray[np.float64] = places[np.abs(places[:, None] - known).min(axis=1) > clear]
    return free


def _pitch(
    bins: NDArray[np.complex128],
    power: NDArray[np.float64],
    noise: float,
    numbers: NDArray[np.int64],
    hz: float,
    rate: float,
) -> float | None:
    """Pitch by the turning of phases of the partials that stand out."""
    mean = power.mean(axis=0)
    clear = (mean > 30.0 * noise) & (mean > 1e-3 * mean.max(initial=0.0))
    if not clear.any():
        return None
    phases = np.unwrap(np.angle(bins[:, clear]), axis=0)
    time = STEP / rate * (np.arange(LOOKS) - (LOOKS - 1) / 2)
    slopes = (time @ (phases - phases.mean(axis=0))) / (time @ time) / (2 * np.pi)
    weights = mean[clear] * numbers[clear] ** 2
    bend = float((weights * slopes / numbers[clear]).sum() / weights.sum()) / hz
    return hz * (1 + bend) if abs(bend) < MOST_BEND else None
