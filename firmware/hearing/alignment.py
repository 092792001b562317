"""How early or late the players are: onsets against the places of the pulse's grid, and what that comes to."""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from typing import Final, TypeVar

import numpy as np

from firmware.hearing.alignment_grid import DIVISIONS, Grid, Place, Times, grid_of
from firmware.music.program import Program

K = TypeVar("K", bound=Hashable)

TO_DEVIATION: Final = 1.4826
"""Median absolute deviation times this is the standard deviation of normally distributed values."""

REMEMBERED: Final = 7
"""Onsets whose median says how far the players are off just now; a place is looked for from there."""

FASTEST_DRIFT: Final = 0.06
"""Seconds per second by which players who drift may move away from the pulse."""

BEYOND_SECONDS: Final = 2.0
"""The grid reaches so far beyond the first and last onset, and as far as players may drift."""

MOST_POINTS: Final = 400
"""Points through which a line is laid; of more, medians of neighbours are taken."""


@dataclass(frozen=True, slots=True)
class Aligned:
    """One onset: seconds from time 0 of the pulse, the place it belongs to, and how late it is there."""

    time: float
    bar: int
    beat: Fraction
    ms: float
    silent: bool = False


@dataclass(frozen=True, slots=True)
class Spread:
    """How a group of onsets lay: median, and spread about it as a standard deviation is counted, in milliseconds."""

    count: int
    median_ms: float
    spread_ms: float


@dataclass(frozen=True, slots=True)
class FreeTempo:
    """What the players did in a stretch of silent bars: percent faster than the pulse, and how late at its end."""

    first_bar: int
    last_bar: int
    percent: float
    end_ms: float


@dataclass(frozen=True, slots=True)
class Figures:
    """What all onsets come to. `drift_percent` is how much faster than the pulse the players went: rushing is positive.

    None where there are too few onsets to say.
    """

    whole: Spread
    drift_percent: float | None
    bars: tuple[tuple[int, Spread], ...] = ()
    beats: tuple[tuple[Fraction, Spread], ...] = ()
    free: tuple[FreeTempo, ...] = ()


def align(times: Sequence[float], program: Program, division: int | None = None) -> tuple[Aligned, ...]:
    """Find the place that each onset belongs to.

    Parameters
    ----------
    times : sequence of float
        Onsets in seconds from time 0 of the program, in order.
    program : Program
        The pulse.
    division : int or None
        Parts of a beat that notes may fall on; None lets the onsets say.

    Returns
    -------
    tuple of Aligned
        One for each onset: the place nearest to it, seen from where the players are.

    Notes
    -----
    Players who rush or drag leave the grid by more than half a place in the end. Each onset is therefore looked for
    from where the last few were: the grid is shifted by the median of their deviations, no faster than players drift.
    Of the divisions of the beat the one is taken whose places lie closest, against what chance would give.
    """
    if not times:
        return ()
    if division is None:
        division = min(DIVISIONS, key=lambda parts: _misfit(times, program, parts))
    found = zip(times, _tracked(times, _around(times, program, division)), strict=True)
    return tuple(Aligned(time, at.bar, at.beat, 1000.0 * late, at.silent) for time, (at, late, _) in found)


def figures(aligned: Sequence[Aligned]) -> Figures:
    """Median and spread in all, by bar and by place in the bar, drift, and tempo where the pulse was silent.

    Players who drift are further off with every bar, and yet may be even. Spreads, and the medians of the places in the
    bar, are therefore taken about where the players were at that time; the median of all is what lies between.
    """
    off = np.array([one.ms for one in aligned])
    middle = float(np.median(off)) if len(off) else 0.0
    even = evened(aligned, off) + middle
    by_bar = _grouped([one.bar for one in aligned], off)
    by_beat = _grouped([one.beat for one in aligned], even)
    return Figures(
        whole=Spread(len(off), middle, spread_of(even).spread_ms),
        drift_percent=drift_percent(aligned),
        bars=tuple((bar, spread_of(by_bar[bar])) for bar in sorted(by_bar)),
        beats=tuple((beat, spread_of(by_beat[beat])) for beat in sorted(by_beat)),
        free=tuple(_free(aligned)),
    )


def evened(aligned: Sequence[Aligned], off: Times) -> Times:
    """Lateness in ms with the players' own wandering taken out: first the line of their drift, then what bends it."""
    slope = _slope(aligned)
    if slope is not None:
        off = off - slope * 1000.0 * (np.array([one.time for one in aligned]) - off / 1000.0)
    rest: Times = off - running_median(off)
    return rest


def running_median(values: Times, each_side: int = REMEMBERED) -> Times:
    """Median of each value and its neighbours, as many on one side as on the other, shape as `values`."""
    reach = [min(at, len(values) - 1 - at, each_side) for at in range(len(values))]
    return np.array([np.median(values[at - far : at + far + 1]) for at, far in enumerate(reach)], dtype=np.float64)


def spread_of(values: Sequence[float] | Times) -> Spread:
    """Median and spread of some values; both 0 if there are none."""
    if not len(values):
        return Spread(0, 0.0, 0.0)
    middle = float(np.median(values))
    return Spread(len(values), middle, TO_DEVIATION * float(np.median(np.abs(np.asarray(values) - middle))))


def drift_percent(aligned: Sequence[Aligned]) -> float | None:
    """How much faster than the pulse the players went, in percent; None for fewer than four onsets or a second."""
    slope = _slope(aligned)
    return None if slope is None else 100.0 * (1.0 / (1.0 + slope) - 1.0)


def line_through(x: Times, y: Times) -> tuple[float, float]:
    """Robust line: the median of the slopes of all pairs, and the median of what that leaves.

    Notes
    -----
    Theil 1950, Sen 1968 ("Estimates of the regression coefficient based on Kendall's tau", JASA 63; from memory). Up to
    29 % of the points may be anywhere.
    """
    first, second = np.triu_indices(len(x), 1)
    apart = x[second] != x[first]
    slope = float(np.median((y[second] - y[first])[apart] / (x[second] - x[first])[apart]))
    return slope, float(np.median(y - slope * x))


def _around(times: Sequence[float], program: Program, division: int) -> Grid:
    beyond = BEYOND_SECONDS + FASTEST_DRIFT * (times[-1] - times[0])
    return grid_of(program, times[0] - beyond, times[-1] + beyond, division)


def _misfit(times: Sequence[float], program: Program, division: int) -> float:
    """Mean distance from the grid where the players were, against what chance would give: a quarter of a step."""
    grid = _around(times, program, division)
    off = [abs(late - shift) for _, late, shift in _tracked(times, grid)]
    return float(np.mean(off)) / (0.25 * float(np.median(np.diff(grid.times))))


def _tracked(times: Sequence[float], grid: Grid) -> Iterator[tuple[Place, float, float]]:
    """Place of each onset, how many seconds late it is there, and how late the last ones were."""
    recent: deque[float] = deque(maxlen=REMEMBERED)
    shift, before = 0.0, times[0]
    for time in times:
        far = FASTEST_DRIFT * (time - before)
        shift += min(max((float(np.median(recent)) if recent else 0.0) - shift, -far), far)
        after = int(np.searchsorted(grid.times, time - shift))
        index = min(
            (max(after - 1, 0), min(after, len(grid.times) - 1)),
            key=lambda at: abs(float(grid.times[at]) - (time - shift)),
        )
        late = time - float(grid.times[index])
        yield grid.places[index], late, shift
        recent.append(late)
        before = time


def _slope(aligned: Sequence[Aligned]) -> float | None:
    """Seconds of lateness gained per second of the grid."""
    if len(aligned) < 4 or aligned[-1].time - aligned[0].time < 1.0:
        return None
    off = np.array([one.ms for one in aligned]) / 1000
    grid = np.array([one.time for one in aligned]) - off
    if len(off) > MOST_POINTS:
        parts = np.array_split(np.arange(len(off)), MOST_POINTS)
        off, grid = (np.array([np.median(values[part]) for part in parts]) for values in (off, grid))
    if grid[0] == grid[-1]:
        return None
    return line_through(grid, off)[0]


def _grouped(names: Sequence[K], values: Times) -> dict[K, list[float]]:
    groups: dict[K, list[float]] = {}
    for name, value in zip(names, values, strict=True):
        groups.setdefault(name, []).append(float(value))
    return groups


def _free(aligned: Sequence[Aligned]) -> list[FreeTempo]:
    found = []
    for silent, group in groupby(aligned, key=lambda one: one.silent):
        stretch = list(group)
        percent = drift_percent(stretch) if silent else None
        if percent is not None:
            off = float(np.median([one.ms for one in stretch[-3:]]))
            found.append(FreeTempo(stretch[0].bar, stretch[-1].bar, percent, off))
    return found
