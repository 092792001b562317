"""Tempo over a piece: steady stretches, accelerando and ritardando, holds and cut-offs, all in closed form.

Positions are whole notes from the first beat of bar 1 and exact; a speed is whole notes per minute; times are seconds.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction


class Law(StrEnum):
    """What a ramp is linear in."""

    BEAT = "beat"
    """The tempo changes by the same amount with every beat."""
    TIME = "time"
    """The tempo changes by the same amount with every second."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the music: its length, the speed at its beginning and at its end, and the law between."""

    length: Fraction
    start: float
    end: float
    law: Law = Law.BEAT

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return seconds_in(self, self.length)


@dataclass(frozen=True, slots=True)
class Pause:
    """Time that passes while the music stands still: a hold, or the silence after a cut-off."""

    seconds: float
    cut: bool = False


Move = Stretch | Pause


def seconds_in(stretch: Stretch, way: Fraction) -> float:
    r"""Seconds from the beginning of a stretch until so much of it has gone by.

    Linear per beat, v(x) = v0 + (v1 - v0) x / L, so that the time is the integral of 60 dx / v(x)::

        t(x) = 60 L / (v1 - v0) * ln(v(x) / v0)

    Linear per time, dv/dt constant, so that v(x)^2 = v0^2 + (v1^2 - v0^2) x / L as for a body that slows down evenly::

        t(x) = 120 x / (v0 + v(x))

    Both give 60 x / v0 when v1 = v0. The first is written with log1p, the second without a difference of like
    numbers, so that slow ramps lose no digits.

    Parameters
    ----------
    stretch : Stretch
        Length L in whole notes, speeds v0 and v1 in whole notes per minute.
    way : Fraction
        x, in whole notes, 0 to L.

    Notes
    -----
    Tempo as a function of score position and its integral: H. Honing, "From time to time: the representation of
    timing and tempo", Computer Music Journal 25(3), 2001. Even braking in a final ritardando: A. Friberg and
    J. Sundberg, "Does music performance allude to locomotion?", J. Acoust. Soc. Am. 105(3), 1999, their q = 2. (Both
    cited from memory; the formulas are derived above.)
    """
    x = float(way)
    v0, v1 = stretch.start, stretch.end
    if v0 == v1 or not stretch.length:
        return 60.0 * x / v0
    part = float(way / stretch.length)
    if stretch.law is Law.TIME:
        return 120.0 * x / (v0 + math.sqrt(v0 * v0 + (v1 * v1 - v0 * v0) * part))
    u = (v1 - v0) / v0 * part
    return 60.0 * x / v0 * (math.log1p(u) / u if u else 1.0)


def way_in(stretch: Stretch, seconds: float) -> float:
    """Whole notes gone by after so many seconds of a stretch: the inverse of `seconds_in`."""
    v0, v1 = stretch.start, stretch.end
    if v0 == v1 or not stretch.length:
        return v0 * seconds / 60.0
    if stretch.law is Law.TIME:
        slope = (v1 - v0) / stretch.seconds
        return (v0 * seconds + 0.5 * slope * seconds * seconds) / 60.0
    w = (v1 - v0) / float(stretch.length) * seconds / 60.0
    return v0 * seconds / 60.0 * (math.expm1(w) / w if w else 1.0)


def speed_in(stretch: Stretch, way: float) -> float:
    """Speed of a stretch after so many whole notes of it."""
    part = min(max(way / float(stretch.length), 0.0), 1.0) if stretch.length else 1.0
    if stretch.law is Law.TIME:
        return math.sqrt(stretch.start**2 + (stretch.end**2 - stretch.start**2) * part)
    return stretch.start + (stretch.end - stretch.start) * part


def length_of(seconds: float, start: float, end: float, law: Law) -> Fraction:
    """Length in whole notes of a ramp that lasts so many seconds.

    Linear per time the mean speed is (v0 + v1) / 2; linear per beat it is the logarithmic mean (v1 - v0) / ln(v1 / v0).
    """
    if law is Law.TIME or start == end:
        mean = 0.5 * (start + end)
    else:
        u = (end - start) / start
        mean = start * u / math.log1p(u)
    return Fraction(mean * seconds / 60.0)


@dataclass(frozen=True, slots=True)
class Curve:
    """The tempo of a whole piece: moves one after another, then the last speed for ever.

    Before position 0 the first speed holds. Times are rounded nowhere; what is played is rounded once, to its sample.

    Parameters
    ----------
    speed : float
        Whole notes per minute where no stretch says otherwise.
    moves : tuple of Stretch and Pause
        In their order from position 0.
    """

    speed: float
    moves: tuple[Move, ...] = ()
    pauses: tuple[tuple[Fraction, float, Pause], ...] = field(init=False, repr=False, compare=False)
    """Where in the music, and when, each pause begins."""
    _rows: tuple[Stretch, ...] = field(init=False, repr=False, compare=False)
    _places: tuple[Fraction, ...] = field(init=False, repr=False, compare=False)
    _times: tuple[float, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Work out when each move begins, so that any time is found at once."""
        first = self.moves[0].start if self.moves and isinstance(self.moves[0], Stretch) else self.speed
        place, time, lost, last = Fraction(0), 0.0, 0.0, first
        rows, places, times = [], [place], [time]
        pauses: list[tuple[Fraction, float, Pause]] = []
        for move in self.moves:
            if isinstance(move, Pause):
                pauses.append((place, time, move))
                rows.append(Stretch(Fraction(0), last, last))
            else:
                rows.append(move)
                place, last = place + move.length, move.end
            # What an addition loses is kept and added the next time: a million stretches lose nothing that counts.
            total = math.fsum((time, lost, move.seconds))
            time, lost = total, math.fsum((time, lost, move.seconds, -total))
            places.append(place)
            times.append(time)
        rows.append(Stretch(Fraction(0), last, last))
        known = {"speed": first, "pauses": tuple(pauses), "_rows": tuple(rows)}
        for name, value in {**known, "_places": tuple(places), "_times": tuple(times)}.items():
            object.__setattr__(self, name, value)

    def time(self, position: Fraction) -> float:
        """Seconds from position 0 to a position; what stands where a pause begins comes before the pause."""
        if position <= 0:
            return 60.0 * float(position) / self.speed
        row = bisect.bisect_left(self._places, position) - 1
        return self._times[row] + seconds_in(self._rows[row], position - self._places[row])

    def position(self, seconds: float) -> float:
        """Position that is reached after so many seconds; it stands still in a pause."""
        if seconds <= 0:
            return self.speed * seconds / 60.0
        row = bisect.bisect_right(self._times, seconds) - 1
        reached = float(self._places[row]) + way_in(self._rows[row], seconds - self._times[row])
        return min(reached, float(self._places[row + 1])) if row + 1 < len(self._places) else reached

    def speed_at(self, position: float) -> float:
        """Speed at a position: that of the stretch that begins there, if one does."""
        row = max(bisect.bisect_right(self._places, position) - 1, 0)
        return speed_in(self._rows[row], position - float(self._places[row]))

    def ramp_at(self, position: float) -> tuple[Fraction, Stretch] | None:
        """The ramp that is under way at a position, with where it began; None where the tempo is steady."""
        row = bisect.bisect_right(self._places, position) - 1
        if row < 0 or self._rows[row].start == self._rows[row].end:
            return None
        return self._places[row], self._rows[row]

    def moves_in(self, begin: Fraction, end: Fraction) -> tuple[tuple[float, Move], ...]:
        """Moves that begin from one position to before another, each with the speed before it."""
        first, last = (bisect.bisect_left(self._places, place) for place in (begin, end))
        found = range(first, min(last, len(self.moves)))
        return tuple((self._rows[index - 1].end if index else self.speed, self.moves[index]) for index in found)
