"""One part of a MusicXML score while it is read: where in which bar, and what was found there."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

from firmware.errors import KeelnoteError
from firmware.music.meter import parse_meter
from firmware.music.modes import MODES, mode_named
from firmware.plan.score import Place, ScoreKey, ScoreMeter

MOST_BARS: Final = 20_000
MOST_FIFTHS: Final = 14
"""Sharps or flats of a signature at concert pitch; what lies beyond is damage."""

_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]{1,9}(?:\.[0-9]{0,6})?|\.[0-9]{1,6})")
_MODES: Final = frozenset(mode.name for mode in MODES) | {"ionian", "aeolian"}


def number_of(text: str) -> Fraction | None:
    """Read a plain number; None for anything else, a number of monstrous length among it."""
    return Fraction(text) if _NUMBER.fullmatch(text) else None


def whole_of(text: str) -> int | None:
    """Read a whole number; None for anything else."""
    number = number_of(text)
    return int(number) if number is not None and number.denominator == 1 else None


class PartReader:
    """A place in one part. Positions are quarter notes; `ticks` count divisions of them, as the file does."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.bar = -1
        self.divisions = Fraction(1)
        self.base = Fraction(0)
        self.ticks = Fraction(0)
        self.furthest = Fraction(0)
        self.shift = 0
        self.unpitched = False
        self.clefs = 0
        self.numbers: list[str] = []
        self.lengths: list[Fraction] = []
        self.keys: list[ScoreKey] = []
        self.meters: list[ScoreMeter] = []
        self.written: tuple[int, str] | None = None

    @property
    def now(self) -> Fraction:
        """Quarter notes from the beginning of the bar."""
        return self.base + self.ticks / self.divisions

    def place(self, offset: Fraction = Fraction(0)) -> Place:
        """Return where the reading stands, moved by some divisions, never before the bar line."""
        return Place(max(self.bar, 0), max(self.now + offset / self.divisions, Fraction(0)))

    def begin_bar(self, number: str) -> None:
        """Go on to the next bar."""
        self.bar += 1
        self.numbers.append(number)
        self.base = self.ticks = self.furthest = Fraction(0)

    def end_bar(self) -> None:
        """Note how long the bar was."""
        self.lengths.append(self.furthest)

    def move(self, ticks: Fraction) -> None:
        """Go on, or back, by some divisions."""
        self.ticks = max(self.ticks + ticks, -self.base * self.divisions)
        self.furthest = max(self.furthest, self.now)

    def divide(self, divisions: Fraction | None) -> None:
        """Count in another division of the quarter note from here on."""
        if divisions is not None and divisions > 0:
            self.base, self.ticks, self.divisions = self.now, Fraction(0), divisions

    def transpose(self, steps: int | None, semitones: int) -> None:
        """Take over a transposition, written to concert pitch; without letters the nearest signature is meant."""
        # A fifth is 7 semitones and 4 letters: f fifths less some octaves make 7 f - 12 o and 4 f - 7 o.
        self.shift = (7 * semitones + 5) % 12 - 5 if steps is None else 7 * semitones - 12 * steps

    def end_attributes(self) -> None:
        """Note a key when the transposition that stands after it is known."""
        if self.written is None:
            return
        fifths, mode = self.written[0] + self.shift, self.written[1]
        self.written = None
        if abs(fifths) <= MOST_FIFTHS:
            self.keys.append(ScoreKey(self.place(), fifths, mode))

    def write_key(self, fifths: int, mode: str) -> None:
        """Take over a key signature as it is written."""
        mode = mode.lower()
        self.written = (fifths, mode_named(mode).name if mode in _MODES else "")

    def write_meter(self, pairs: list[tuple[str, str]]) -> str:
        """Take over a time signature; what can't be beaten comes back as a remark."""
        text = meter_text(pairs)
        try:
            meter = parse_meter(text).text if text else ""
        except KeelnoteError as error:
            return f"bar {self.numbers[-1] if self.numbers else 1}: meter {text!r} is left out: {error.allowed}"
        self.meters.append(ScoreMeter(self.place(), meter))
        return ""


def meter_text(pairs: list[tuple[str, str]]) -> str:
    """Write a time signature of one or several fractions as one: 2/4 + 3/8 becomes 4+3/8."""
    if len(pairs) <= 1:
        return "/".join(pairs[0]).replace(" ", "") if pairs else ""
    units = [whole_of(under) or 0 for _, under in pairs]
    unit = max(units)
    groups: list[str] = []
    for (beats, _), under in zip(pairs, units, strict=True):
        tops = [whole_of(top.strip()) for top in beats.split("+")]
        if not under or unit % under or None in tops:
            return "+".join(f"{beats}/{below}" for beats, below in pairs)
        groups += [str(top * (unit // under)) for top in tops if top is not None]
    return "+".join(groups) + f"/{unit}"
