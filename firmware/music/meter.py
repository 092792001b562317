"""Meters: simple, compound and additive, and the bars of a piece."""

from __future__ import annotations

import bisect
import re
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from firmware.errors import OutOfRangeError

UNITS: Final = (1, 2, 4, 8, 16, 32)
"""Note values under the line."""

MOST_UNITS: Final = 64
"""Units in a written bar; nobody beats more."""

MOST_BARS: Final = 1000
"""Bars in a written list."""

FORMS: Final = "a meter such as 4/4, 6/8, 3+2/4 or 2+2+3/8"

BAR_WEIGHT: Final = 1.0
GROUP_WEIGHT: Final = 0.75
BEAT_WEIGHT: Final = 0.5
"""How much stress a beat has: the first of a bar, the first of another group, any other."""

_METER: Final = re.compile(r"\(?([0-9]{1,2}(?:\s*\+\s*[0-9]{1,2})*)\)?\s*/\s*([0-9]{1,2})")
_RUN: Final = re.compile(r"(\S+?)(?:[x×*]([0-9]{1,4}))?")

FAR: Final = 2**62
"""Number of a bar that no rehearsal reaches: the last bar goes on for ever."""


@dataclass(frozen=True, slots=True)
class Meter:
    """A bar's division: beats in each group, and the beat's note value as a part of a whole note.

    6/8 is one group of two beats of 3/8; 2+2+3/8 is three groups with seven beats of 1/8.
    """

    groups: tuple[int, ...]
    beat: Fraction

    @property
    def beats(self) -> int:
        """Beats in a bar."""
        return sum(self.groups)

    @property
    def length(self) -> Fraction:
        """Length of a bar in whole notes."""
        return self.beats * self.beat

    @property
    def compound(self) -> bool:
        """Whether the beat is a dotted note."""
        return self.beat.numerator == 3

    @property
    def text(self) -> str:
        """The time signature as it is written."""
        times = self.beat.numerator
        return "+".join(str(times * group) for group in self.groups) + f"/{self.beat.denominator}"

    @property
    def weights(self) -> tuple[float, ...]:
        """Stress of each beat of the bar."""
        stress: list[float] = []
        for group in self.groups:
            stress += [GROUP_WEIGHT if stress else BAR_WEIGHT, *[BEAT_WEIGHT] * (group - 1)]
        return tuple(stress)


def meter_of(numerator: int, denominator: int) -> Meter:
    """Meter of a plain time signature: 6, 9, 12 eighths or shorter are compound, three to a beat (common practice)."""
    if denominator >= 8 and numerator > 3 and numerator % 3 == 0:
        return Meter((numerator // 3,), Fraction(3, denominator))
    return Meter((numerator,), Fraction(1, denominator))


COMMON_TIME: Final = meter_of(4, 4)


def parse_meter(text: str) -> Meter:
    """Read a meter: a plain time signature, or an additive one, whose beats are the units under the line.

    Raises
    ------
    OutOfRangeError
        If it is none.
    """
    match = _METER.fullmatch(text.strip())
    if match is None:
        raise OutOfRangeError("meter", text, FORMS)
    groups = tuple(int(part) for part in match[1].split("+"))
    unit = int(match[2])
    if unit not in UNITS:
        raise OutOfRangeError("meter", text, "a note value under the line: " + ", ".join(map(str, UNITS)))
    if min(groups) < 1 or sum(groups) > MOST_UNITS:
        raise OutOfRangeError("meter", text, f"1 to {MOST_UNITS} units in a bar, none of its groups empty")
    return meter_of(groups[0], unit) if len(groups) == 1 else Meter(groups, Fraction(1, unit))


@dataclass(frozen=True, slots=True)
class Bars:
    """The bars of a piece, numbered from 1: runs of (how many bars, meter), gone through again and again, or once.

    After the last run of bars that do not repeat, its meter goes on. Bars before the first have its meter. The first
    `intro` runs are gone through only once.
    """

    runs: tuple[tuple[int, Meter], ...] = ((1, COMMON_TIME),)
    repeat: bool = True
    intro: int = 0
    _numbers: tuple[int, ...] = field(init=False, repr=False, compare=False)
    _starts: tuple[Fraction, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Work out where each run begins, so that any bar is found at once."""
        numbers, starts = [0], [Fraction(0)]
        for count, meter in self.runs:
            numbers.append(numbers[-1] + count)
            starts.append(starts[-1] + count * meter.length)
        object.__setattr__(self, "_numbers", tuple(numbers))
        object.__setattr__(self, "_starts", tuple(starts))

    @property
    def text(self) -> str:
        """The list as it is written: 4/4x3 3/4."""
        return " ".join(meter.text if count == 1 else f"{meter.text}x{count}" for count, meter in self.runs)

    def bar(self, number: int) -> tuple[Fraction, Meter]:
        """Where a bar begins, in whole notes from bar 1, and its meter."""
        rounds, within = 0, number - 1
        if self.repeat and within >= self._numbers[-1]:
            once = self._numbers[self.intro]
            rounds, within = divmod(within - once, self._numbers[-1] - once)
            within += once
        run = min(max(bisect.bisect_right(self._numbers, within) - 1, 0), len(self.runs) - 1)
        meter = self.runs[run][1]
        start = self._starts[run] + (within - self._numbers[run]) * meter.length
        return rounds * (self._starts[-1] - self._starts[self.intro]) + start, meter

    def number_at(self, position: Fraction) -> int:
        """Number of the bar that holds a position in whole notes from bar 1."""
        rounds, within = 0, position
        if self.repeat and within >= self._starts[-1]:
            once = self._starts[self.intro]
            gone, within = divmod(within - once, self._starts[-1] - once)
            rounds, within = int(gone), within + once
        run = min(max(bisect.bisect_right(self._starts, within) - 1, 0), len(self.runs) - 1)
        bars = (within - self._starts[run]) // self.runs[run][1].length
        return rounds * (self._numbers[-1] - self._numbers[self.intro]) + self._numbers[run] + int(bars) + 1

    def changed_from(self, number: int, later: Bars) -> Bars:
        """The same bars before bar `number`, those of `later` from there on; bar numbers go on."""
        runs: list[tuple[int, Meter]] = []
        bar = 1
        while bar < number:
            meter = self.bar(bar)[1]
            count = min(self._left_of_run(bar), number - bar)
            if runs and runs[-1][1] == meter:
                runs[-1] = (runs[-1][0] + count, meter)
            else:
                runs.append((count, meter))
            bar += count
        return Bars((*runs, *later.runs), later.repeat, len(runs) + later.intro)

    def _left_of_run(self, number: int) -> int:
        """Bars from a bar to the end of its run; of a meter that goes on for ever, more than any piece has."""
        within = number - 1
        if within >= self._numbers[-1]:
            if not self.repeat or len(self.runs) - self.intro == 1:
                return FAR
            once = self._numbers[self.intro]
            within = once + (within - once) % (self._numbers[-1] - once)
        return self._numbers[bisect.bisect_right(self._numbers, within)] - within


def parse_bars(text: str) -> Bars:
    """Read bars: one meter, or a list that is gone through again and again, such as "4/4x3 3/4".

    Raises
    ------
    OutOfRangeError
        If a word of it is no meter.
    """
    runs = []
    for word in re.sub(r"\s*([+/x×*])\s*", r"\1", text.replace(",", " ").replace("|", " ")).split():
        match = _RUN.fullmatch(word)
        meter = parse_meter(match[1] if match else word)
        runs.append((int((match and match[2]) or 1), meter))
    if not runs or min(count for count, _ in runs) < 1 or sum(count for count, _ in runs) > MOST_BARS:
        raise OutOfRangeError("meter", text, f"{FORMS}, or a list of 1 to {MOST_BARS} bars such as 4/4x3 3/4")
    return Bars(tuple(runs))
