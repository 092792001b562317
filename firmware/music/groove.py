"""Grooves: patterns of one bar or more, stroke by stroke, and how they swing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from firmware.errors import OutOfRangeError
from firmware.music.meter import Meter, parse_meter

STROKES: Final = {"X": 1.0, "x": 0.7, "o": 0.4}
"""How loud each letter of a pattern is: accented, plain, soft."""

REST: Final = "."
SPACERS: Final = frozenset(" |\t")
"""May stand anywhere in a pattern to make it readable."""

MOST_BARS: Final = 64
MOST_STEPS: Final = 48
"""Bars of a pattern, and steps of one beat."""

STEADY: Final = Fraction(1)
STEEPEST: Final = Fraction(3)
"""Swing ratios: the first of two notes lasts as long as the second, or three times as long."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke: where in its bar, in whole notes; its sound; how loud, 0 to 1."""

    place: Fraction
    sound: str
    weight: float


@dataclass(frozen=True, slots=True)
class Groove:
    """A pattern.

    Parameters
    ----------
    name, title : str
        What it is called in files and on the screen.
    meter : Meter
        Of its bars; bars of another meter take what fits into them.
    bars : tuple of tuples of Stroke
        The strokes of each bar in their order.
    swung : Fraction
        Length in whole notes of the pair of notes that swings; 0 for a groove that does not.
    whole : bool
        Whether it is all that sounds; else beats of a bar that is longer than its meter are plain.
    """

    name: str
    title: str
    meter: Meter
    bars: tuple[tuple[Stroke, ...], ...]
    swung: Fraction = Fraction(0)
    whole: bool = False

    def strokes(self, number: int) -> tuple[Stroke, ...]:
        """Strokes of bar `number` (from 1) of a piece that goes through the pattern again and again."""
        return self.bars[(number - 1) % len(self.bars)]


def swing(place: Fraction, pair: Fraction, ratio: Fraction) -> Fraction:
    """Where a place falls when pairs of notes swing: the first of the two gets `ratio` times the time of the second.

    What lies between moves in proportion. A ratio of 1 is straight, 2 is the triplet, 3 a dotted note and a short one
    (common practice).
    """
    if not pair or ratio == STEADY:
        return place
    begun = place // pair * pair
    within = (place - begun) / pair
    first = ratio / (ratio + 1)
    if within <= Fraction(1, 2):
        return begun + pair * within * 2 * first
    return begun + pair * (first + (within * 2 - 1) * (1 - first))


def groove_of(
    name: str,
    title: str,
    meter: str,
    steps: int,
    lines: Iterable[tuple[str, str | Sequence[str]]],
    swung: str = "",
) -> Groove:
    """Make a groove from lines of letters: X accented, x plain, o soft, "." a rest.

    Parameters
    ----------
    steps : int
        Letters to a beat.
    lines : pairs of (sound, pattern)
        A pattern holds whole bars; spaces and | only help the eye. A shorter line is gone through again.
    swung : str
        "eighths" or "sixteenths" if pairs of those swing.

    Raises
    ------
    OutOfRangeError
        If a pattern is no whole number of bars or has other letters, or the lines don't go into each other.
    """
    measure = parse_meter(meter)
    size = measure.beats * steps
    read = [(sound, letters_of(pattern, size)) for sound, pattern in lines]
    count = max((len(letters) // size for _, letters in read), default=0)
    if count == 0:
        raise OutOfRangeError("pattern", "", "at least one line with at least one bar")
    bars: list[list[Stroke]] = [[] for _ in range(count)]
    for sound, letters in read:
        own = len(letters) // size
        if count % own:
            raise OutOfRangeError("pattern", letters[:40], f"a number of bars that goes into {count} evenly, not {own}")
        for bar in range(count):
            place = bar % own * size
            bars[bar] += strokes_of(sound, letters[place : place + size], measure.beat / steps)
    pair = {"": Fraction(0), "eighths": Fraction(1, 4), "sixteenths": Fraction(1, 8)}[swung]
    done = tuple(tuple(sorted(bar, key=lambda stroke: (stroke.place, stroke.sound))) for bar in bars)
    return Groove(name, title, measure, done, pair)


def letters_of(pattern: str | Sequence[str], size: int) -> str:
    """Letters of a pattern without spacers; raises OutOfRangeError if they are no whole bars of `size` letters."""
    text = pattern if isinstance(pattern, str) else "".join(pattern)
    letters = "".join(letter for letter in text if letter not in SPACERS)
    wrong = next((letter for letter in letters if letter not in STROKES and letter != REST), None)
    if wrong is not None:
        raise OutOfRangeError("pattern", wrong, f"{', '.join(STROKES)} for strokes, {REST} for a rest")
    if not letters or len(letters) % size or len(letters) > size * MOST_BARS:
        allowed = f"whole bars of {size} letters, at most {MOST_BARS}; this has {len(letters)} letters"
        raise OutOfRangeError("pattern", text[:40], allowed)
    return letters


def strokes_of(sound: str, letters: str, step: Fraction) -> list[Stroke]:
    """Strokes of one bar of letters."""
    return [Stroke(at * step, sound, STROKES[letter]) for at, letter in enumerate(letters) if letter != REST]
