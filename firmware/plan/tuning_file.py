"""The user's own tunings, written in TOML.

::

    title = "The hall's pipes"
    fixed = false          # true: it belongs to the note names and counts from C; false: it goes with the tonic

    [intervals]            # semitones above the tonic, or above C; a tone that is left out is equal
    3 = "6/5"
    4 = "5/4 - 2 cents"
    7 = "701.96 cents"

Ratios and cents stay the exact numbers that are written.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, Final

from firmware.errors import BadEntryError, KeelnoteError, OutOfRangeError
from firmware.music.intervals import SEMITONE, UNISON, Interval
from firmware.music.keys import Key
from firmware.music.tuning import Tuning, own_tuning
from firmware.plan.checked_toml import Entry, Section, Table, check

FORMS: Final = 'a ratio such as "5/4", cents such as "386.31 cents", or both such as "5/4 - 2 cents"'
LONGEST: Final = 60
DEGREES: Final = range(1, 12)

_BOTH: Final = re.compile(r"\s*(?P<ratio>[0-9]+(?:/[0-9]+)?)\s*(?P<sign>[-+−])\s*(?P<cents>[0-9./]+)\s*cents\s*")


@dataclass(frozen=True, slots=True)
class OwnTuning:
    """A tuning of the user's own: `intervals` as they are written, for 1 to 11 semitones, empty for an equal one."""

    name: str
    title: str = ""
    fixed: bool = False
    intervals: tuple[str, ...] = ("",) * len(DEGREES)

    def interval(self, semitones: int) -> Interval:
        """The interval of a degree, exact."""
        if semitones == 0:
            return UNISON
        text = self.intervals[semitones - 1]
        return read_interval(text) if text else SEMITONE**semitones

    @property
    def tuning(self) -> Tuning:
        """The tuning itself.

        Raises
        ------
        OutOfRangeError
            If its tones do not rise within one octave.
        """
        steps = {semitones: self.interval(semitones) for semitones in DEGREES}
        return own_tuning(self.name, steps, title=self.title, fixed=self.fixed)

    def moved(self, semitones: int, cents: Fraction | int) -> OwnTuning:
        """The same with one degree moved by so many cents.

        Raises
        ------
        OutOfRangeError
            If it would pass the degree above or below it, or the tonic was to be moved.
        """
        if semitones not in DEGREES:
            raise OutOfRangeError("degree to be moved, in semitones", semitones, "1 to 11")
        texts = list(self.intervals)
        texts[semitones - 1] = _moved(texts[semitones - 1] or f"{100 * semitones} cents", Fraction(cents))
        found = replace(self, intervals=tuple(texts))
        _ = found.tuning
        return found


def own_from(tuning: Tuning, key: Key, name: str, title: str = "") -> OwnTuning:
    """Begin a tuning of one's own with the tones of another, as they are in a key.

    What is neither a ratio nor a part of an octave is rounded to a millionth of a cent.
    """
    return OwnTuning(name, title, intervals=tuple(tuning.interval(key, semitones).text for semitones in DEGREES))


def read_interval(text: str) -> Interval:
    """Read a ratio, cents, or a ratio with cents more or less; exact.

    Raises
    ------
    OutOfRangeError
        If it is none.
    """
    try:
        both = _BOTH.fullmatch(text)
        if both is None:
            return Interval.of(text)
        cents = Interval.of_cents(both["cents"])
        return Interval.of(both["ratio"]) * (cents if both["sign"] == "+" else cents**-1)
    except KeelnoteError as error:
        raise OutOfRangeError("interval", text, FORMS) from error


def _moved(text: str, cents: Fraction) -> str:
    """An interval as it is written, so many cents higher."""
    both = _BOTH.fullmatch(text)
    if both is not None:
        ratio, before = both["ratio"], Fraction(both["cents"])
        cents += before if both["sign"] == "+" else -before
    elif text.strip().endswith("cents"):
        return f"{_number(Fraction(text.strip().removesuffix('cents').strip()) + cents)} cents"
    else:
        ratio = text.strip()
    if not cents:
        return ratio
    return f"{ratio} {'+' if cents > 0 else '-'} {_number(abs(cents))} cents"


def _number(value: Fraction) -> str:
    """A number as a decimal where that is exact, else as a fraction."""
    decimal = f"{float(value):.6f}".rstrip("0").rstrip(".")
    return decimal if Fraction(decimal) == value else str(value)


def _checked(text: str) -> str:
    read_interval(text)
    return text.strip()


INTERVALS: Final[Table] = tuple(
    Entry(str(semitones), str, 1, LONGEST, default="", help=FORMS, convert=_checked) for semitones in DEGREES
)
TUNING_TABLE: Final[Table] = (
    Entry("title", str, 1, 40, default="", help="what the screen calls it"),
    Entry("fixed", bool, default=False, help="whether it belongs to the note names instead of the tonic"),
    Section("intervals", INTERVALS),
)


def read_tuning(text: str, source: str, name: str) -> tuple[OwnTuning | None, tuple[BadEntryError, ...]]:
    """Read a tuning from a TOML text; None with the reasons if anything in it is wrong. Nothing is raised.

    A tuning with a tone missing would teach a wrong pitch, so it is used whole or not at all.
    """
    checked = check(text, source, TUNING_TABLE)
    if checked.problems:
        return None, checked.problems
    values: dict[str, Any] = checked.values
    intervals = values["intervals"]
    texts = tuple(intervals[str(semitones)] for semitones in DEGREES)
    own = OwnTuning(name, values["title"] or name, values["fixed"], texts)
    try:
        _ = own.tuning
    except OutOfRangeError as error:
        return None, (BadEntryError(source, intervals["line"], "intervals", error.value, error.allowed, error.remedy),)
    return own, ()


def write_tuning(own: OwnTuning) -> str:
    """The TOML file of a tuning; `read_tuning` reads the same from it."""
    lines = [f"title = {json.dumps(own.title or own.name, ensure_ascii=False)}".replace("\x7f", "\\u007f")]
    lines += [f"fixed = {json.dumps(own.fixed)}", "", "[intervals]"]
    texts = zip(DEGREES, own.intervals, strict=True)
    lines += [f"{semitones} = {json.dumps(text, ensure_ascii=False)}" for semitones, text in texts if text]
    return "\n".join(lines) + "\n"
