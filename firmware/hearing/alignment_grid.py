"""The places in the music where a note may fall: beats and what divides them, each with its exact time."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.music.program import Program

Times = NDArray[np.float64]

DIVISIONS: Final = (1, 2, 3, 4, 6)
"""Parts of a beat that notes may fall on."""


@dataclass(frozen=True, slots=True)
class Place:
    """One place of the grid: bar, beat within it from 1 (2 1/2 is the middle of the second), and whether it clicks."""

    bar: int
    beat: Fraction
    silent: bool


@dataclass(frozen=True, slots=True)
class Grid:
    """Places in order, and their times in seconds from time 0 of the program, shape (n,)."""

    places: tuple[Place, ...]
    times: Times
    division: int


def grid_of(program: Program, first: float, last: float, division: int) -> Grid:
    """Places of all bars between two times, in seconds from time 0 of a program, each beat in so many parts."""
    places: list[Place] = []
    times: list[float] = []
    number = program.bar_at(first)
    while not times or times[-1] <= last:
        start, meter = program.bars.bar(number)
        for step in range(meter.beats * division):
            beat = Fraction(step, division)
            places.append(Place(number, beat + 1, program.silent_in(number)))
            times.append(program.time(start + beat * meter.beat))
        number += 1
    return Grid(tuple(places), np.array(times, dtype=np.float64), division)
