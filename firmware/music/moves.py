"""Tempo moves as a person writes them: "8 bars, 92->60 over 8 beats, hold 4 beats, cut 1 s"."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from firmware.errors import OutOfRangeError
from firmware.music.meter import Bars
from firmware.music.tempo import Law, Move, Pause, Stretch, length_of

FORMS: Final = (
    'moves such as "60->120 over 16 beats", "120->60 over 10 s by time", "8 bars", "hold 4 beats", "cut 1 s", '
    '"tempo 96", one after another with commas'
)
TEMPO_RANGE: Final = (20.0, 300.0)
LONGEST: Final = 10_000.0
"""Beats, bars or seconds of one move."""
MOST_MOVES: Final = 64

_NUMBER: Final = r"([0-9]{1,5}(?:\.[0-9]{1,4})?)"
_LENGTH: Final = rf"{_NUMBER}\s*(beats?|bars?|seconds?|s)"
_RAMP: Final = re.compile(rf"{_NUMBER}\s*(?:->|→|to)\s*{_NUMBER}\s*over\s*{_LENGTH}(?:\s*by\s*(beat|time))?")
_STEADY: Final = re.compile(_LENGTH)
_PAUSE: Final = re.compile(rf"(hold|cut)\s*{_LENGTH}")
_TEMPO: Final = re.compile(rf"tempo\s*{_NUMBER}")


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the moves have come to."""

    bars: Bars
    unit: Fraction
    position: Fraction
    tempo: float

    def whole_notes(self, amount: str, kind: str) -> Fraction:
        """Length in whole notes of so many beats or bars, or of so many seconds at the tempo of the moment."""
        count = Fraction(amount)
        if kind.startswith("beat"):
            return count * self.unit
        if kind.startswith("bar"):
            if count.denominator != 1:
                raise OutOfRangeError("bars", amount, "a whole number")
            number = self.bars.number_at(self.position)
            return self.bars.bar(number + int(count))[0] - self.position
        return count * Fraction(self.tempo) * self.unit / 60

    def seconds(self, amount: str, kind: str) -> float:
        """The same in seconds."""
        return float(amount) if kind.startswith("s") else self.in_time(self.whole_notes(amount, kind))

    def in_time(self, length: Fraction) -> float:
        """Seconds that whole notes take at the tempo of the moment."""
        return 60.0 * float(length / self.unit) / self.tempo


def parse_moves(text: str, bars: Bars, unit: Fraction, tempo: float) -> tuple[Move, ...]:
    """Read moves; the first begins at bar 1 in `tempo`, which counts notes of `unit`.

    Raises
    ------
    OutOfRangeError
        If a word of it is no move, or a tempo or length is out of range.
    """
    place = _Place(bars, unit, Fraction(0), _checked("tempo", tempo, TEMPO_RANGE))
    moves: list[Move] = []
    words = [word.strip() for word in re.split("[,;\n]", text) if word.strip()]
    if len(words) > MOST_MOVES:
        raise OutOfRangeError("moves", len(words), f"at most {MOST_MOVES}")
    for word in words:
        move, place = _move(word.lower(), place)
        moves.append(move)
    return tuple(moves)


def _move(word: str, place: _Place) -> tuple[Move, _Place]:
    if match := _TEMPO.fullmatch(word):
        tempo = _checked("tempo", float(match[1]), TEMPO_RANGE)
        return _stretch(Fraction(0), tempo, tempo, Law.BEAT, place)
    if match := _PAUSE.fullmatch(word):
        seconds = _checked("seconds", place.seconds(match[2], match[3]), (0.0, LONGEST))
        return Pause(seconds, match[1] == "cut"), place
    if match := _RAMP.fullmatch(word):
        return _ramp(match, place)
    if match := _STEADY.fullmatch(word):
        length = place.whole_notes(match[1], match[2])
        return _stretch(length, place.tempo, place.tempo, Law.BEAT, place)
    raise OutOfRangeError("move", word, FORMS)


def _ramp(match: re.Match[str], place: _Place) -> tuple[Move, _Place]:
    start, end = (_checked("tempo", float(match[group]), TEMPO_RANGE) for group in (1, 2))
    law = Law(match[5] or "beat")
    if match[4].startswith("s"):
        seconds = _checked("seconds", float(match[3]), (0.0, LONGEST))
        length = length_of(seconds, start * float(place.unit), end * float(place.unit), law)
    else:
        length = place.whole_notes(match[3], match[4])
    return _stretch(length, start, end, law, place)


def _stretch(length: Fraction, start: float, end: float, law: Law, place: _Place) -> tuple[Move, _Place]:
    _checked("length of a move in beats", float(length / place.unit), (0.0, LONGEST))
    unit = float(place.unit)
    move = Stretch(length, start * unit, end * unit, law)
    return move, _Place(place.bars, place.unit, place.position + length, end)


def _checked(thing: str, value: float, limits: tuple[float, float]) -> float:
    low, high = limits
    if not low <= value <= high:
        raise OutOfRangeError(thing, value, f"{low:g} to {high:g}")
    return value
