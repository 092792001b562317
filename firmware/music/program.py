"""A pulse as data: bars, tempo, groove, count-in and silent bars in, exact beats and strokes out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from firmware.music.groove import STEADY, Groove, swing
from firmware.music.kit import Kit, kit_named
from firmware.music.meter import BAR_WEIGHT, BEAT_WEIGHT, GROUP_WEIGHT, Bars, Meter
from firmware.music.tempo import Curve

QUARTER: Final = Fraction(1, 4)
DIVISION_WEIGHT: Final = 0.3
CROSS_WEIGHT: Final = 0.7
"""How loud what divides the beat is, and the other voice of a cross-rhythm."""

ACCENTS: Final = ("groups", "bar", "none")
"""What is stressed: the first beat of each group, that of the bar alone, nothing."""

CROSSINGS: Final = {"off": None, "2:3": (2, 3), "3:2": (3, 2), "3:4": (3, 4), "4:3": (4, 3)}
"""Cross-rhythms: so many strokes of another voice, evenly, in the time of so many beats."""


@dataclass(frozen=True, slots=True)
class Beat:
    """One beat: where, in whole notes from bar 1; when, in seconds from the first sample; its stress, 0 if silent."""

    position: Fraction
    time: float
    bar: int
    beat: int
    weight: float


@dataclass(frozen=True, slots=True)
class Hit:
    """One stroke to sound: where, when, which sound, and how loud from 0 to 1."""

    position: Fraction
    time: float
    sound: str
    gain: float


@dataclass(frozen=True, slots=True, eq=False)
class Program:
    """All that a pulse does, from its first stroke to its last. Two of them are equal only if they are the same one.

    Bar 1 is the first whole bar that is played; a pickup stands in bar 0, the count-in before that. Time 0 is the
    first beat of the count-in, or of the pickup, or of bar 1.

    Parameters
    ----------
    bars : Bars
        Meters.
    curve : Curve
        Tempo, in whole notes per minute.
    unit : Fraction
        Note value that the tempo counts, as a part of a whole note; only for showing it.
    groove : Groove or None
        What sounds from bar 1 on; the plain beats without one.
    swing : Fraction
        Ratio of the two notes of a pair where the groove swings.
    kit : str
        Sounds of the plain beats.
    subdivision : int
        Parts of a beat, 1 to 6.
    cross : (int, int) or None
        Strokes of the other voice, and the beats that they take.
    accents : str
        One of `ACCENTS`.
    heard, silent : int
        So many bars are heard, then so many are silent, again and again; all are heard if one is 0.
    count_in : int
        Bars of plain beats before the music.
    pickup : Fraction
        Whole notes before bar 1 that belong to the music; less than a bar.
    length : int or None
        Bars of the music, None for no end.
    """

    bars: Bars = field(default_factory=Bars)
    curve: Curve = field(default_factory=lambda: Curve(23.0))
    unit: Fraction = QUARTER
    groove: Groove | None = None
    swing: Fraction = STEADY
    kit: str = "click"
    subdivision: int = 1
    cross: tuple[int, int] | None = None
    accents: str = "groups"
    heard: int = 0
    silent: int = 0
    count_in: int = 0
    pickup: Fraction = Fraction(0)
    length: int | None = None

    @property
    def first_bar(self) -> int:
        """Number of the first bar, 1 or less."""
        return 1 - self.count_in - (1 if self.pickup else 0)

    @property
    def start(self) -> Fraction:
        """Position of time 0."""
        if self.pickup and not self.count_in:
            return -self.pickup
        return self.bars.bar(self.first_bar)[0]

    @property
    def end(self) -> Fraction | None:
        """Position at which the music ends."""
        return None if self.length is None else self.bars.bar(self.length + 1)[0]

    @property
    def seconds(self) -> float:
        """How long the whole of it lasts."""
        return math.inf if self.end is None else self.time(self.end)

    def time(self, position: Fraction) -> float:
        """Seconds from time 0 to a position in whole notes."""
        return self.curve.time(position) - self.curve.time(self.start)

    def position(self, seconds: float) -> float:
        """Position in whole notes that is reached at a time."""
        return self.curve.position(seconds + self.curve.time(self.start))

    def bar_at(self, seconds: float) -> int:
        """Number of the bar that is under way at a time."""
        return self.bars.number_at(Fraction(self.position(seconds)))

    def silent_in(self, number: int) -> bool:
        """Whether a bar is one of the silent ones."""
        both = self.heard and self.silent
        return bool(both and number >= 1 and (number - 1) % (self.heard + self.silent) >= self.heard)

    def beats(self, number: int) -> tuple[Beat, ...]:
        """Beats of a bar."""
        if not self._within(number):
            return ()
        first, meter = self.bars.bar(number)
        stress = (0.0,) * meter.beats if self.silent_in(number) else self._weights(meter)
        begun, before = self.start, self.curve.time(self.start)
        places = [first + beat * meter.beat for beat in range(meter.beats)]
        return tuple(
            Beat(place, self.curve.time(place) - before, number, beat + 1, stress[beat])
            for beat, place in enumerate(places)
            if place >= begun
        )

    def all_beats(self) -> Iterator[Beat]:
        """Beats of every bar in order; without end if the program has none."""
        number = self.first_bar
        while self._within(number):
            yield from self.beats(number)
            number += 1

    def hits(self, number: int) -> tuple[Hit, ...]:
        """Strokes of a bar in the order in which they sound."""
        if not self._within(number):
            return ()
        first, meter = self.bars.bar(number)
        found: list[tuple[Fraction, str, float]] = []
        if not self.silent_in(number):
            found = self._grooved(number, first, meter) if self.groove and number >= 1 else self._plain(first, meter)
            found += self._crossing(first, meter) if self.cross and number >= 1 else []
        begun, before = self.start, self.curve.time(self.start)
        hits = [Hit(at, self.curve.time(at) - before, sound, gain) for at, sound, gain in found if at >= begun]
        hits += [
            Hit(place, time - before, "cut", 1.0)
            for place, time, pause in self.curve.pauses
            if pause.cut and first <= place < first + meter.length
        ]
        return tuple(sorted(hits, key=lambda hit: hit.time))

    def over(self, number: int) -> bool:
        """Whether a bar comes after the last."""
        return self.length is not None and number > self.length

    def _within(self, number: int) -> bool:
        return number >= self.first_bar and not self.over(number)

    def _weights(self, meter: Meter) -> tuple[float, ...]:
        if self.accents == "groups":
            return meter.weights
        rest = (BEAT_WEIGHT,) * (meter.beats - 1)
        return (BAR_WEIGHT if self.accents == "bar" else BEAT_WEIGHT, *rest)

    def _plain(self, first: Fraction, meter: Meter, begin: Fraction = Fraction(0)) -> list[tuple[Fraction, str, float]]:
        kit = kit_named(self.kit)
        found = []
        for beat, weight in enumerate(self._weights(meter)):
            place = beat * meter.beat
            if place < begin:
                continue
            found.append((first + place, sound_of(kit, weight), weight))
            for part in range(1, self.subdivision):
                inside = Fraction(part, self.subdivision) * meter.beat
                found.append((first + place + inside, kit.division, DIVISION_WEIGHT))
        return found

    def _grooved(self, number: int, first: Fraction, meter: Meter) -> list[tuple[Fraction, str, float]]:
        """Strokes of the groove as far as the bar reaches; beats that it leaves over are plain."""
        groove = self.groove
        assert groove is not None  # noqa: S101 - the caller asked
        found = []
        for stroke in groove.strokes(number):
            place = swing(stroke.place, groove.swung, self.swing)
            if place < meter.length:
                found.append((first + place, stroke.sound, stroke.weight))
        return found if groove.whole else found + self._plain(first, meter, groove.meter.length)

    def _crossing(self, first: Fraction, meter: Meter) -> list[tuple[Fraction, str, float]]:
        """Strokes of the other voice: from the bar line where its beats go into the bar, else running on from bar 1."""
        strokes, beats = self.cross or (1, 1)
        step = beats * meter.beat / strokes
        base = first if meter.beats % beats == 0 else Fraction(0)
        number = math.ceil((first - base) / step)
        found = []
        while base + number * step < first + meter.length:
            found.append((base + number * step, kit_named(self.kit).cross, CROSS_WEIGHT))
            number += 1
        return found


def sound_of(kit: Kit, weight: float) -> str:
    """Sound of a beat by its stress."""
    if weight >= BAR_WEIGHT:
        return kit.bar
    return kit.group if weight >= GROUP_WEIGHT else kit.beat
