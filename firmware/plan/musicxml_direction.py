"""What a direction of a MusicXML score says of tempo and of the order of playing."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Final

from firmware.plan.musicxml_part import number_of
from firmware.plan.safe_xml import Attributes
from firmware.plan.tempo_words import plain

NOTE_VALUES: Final[Mapping[str, Fraction]] = MappingProxyType(
    {
        "maxima": Fraction(32),
        "long": Fraction(16),
        "breve": Fraction(8),
        "whole": Fraction(4),
        "half": Fraction(2),
        "quarter": Fraction(1),
        "eighth": Fraction(1, 2),
        "16th": Fraction(1, 4),
        "32nd": Fraction(1, 8),
        "64th": Fraction(1, 16),
        "128th": Fraction(1, 32),
        "256th": Fraction(1, 64),
        "512th": Fraction(1, 128),
        "1024th": Fraction(1, 256),
    }
)
"""Quarter notes of each note value, by its name in MusicXML 4.0."""

TEMPO_LIMITS: Final = (5.0, 1000.0)
"""Quarter notes a minute that are believed."""

JUMPS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "segno": "segno",
        "coda": "coda",
        "tocoda": "to_coda",
        "fine": "fine",
        "dacapo": "da_capo",
        "dalsegno": "dal_segno",
    }
)
"""Attributes of <sound>, and the field of `Turn` that each sets."""

_WORDS: Final = (
    (re.compile(r"(?:da capo|d c)(?: .*)?"), "da_capo"),
    (re.compile(r"(?:dal segno|d s)(?: .*)?"), "dal_segno"),
    (re.compile(r"(?:to|al) coda"), "to_coda"),
    (re.compile(r"fine"), "fine"),
    (re.compile(r"trio(?: .*)?"), "trio"),
)
_NUMBERS: Final = re.compile(r"[0-9]{1,4}(?:\.[0-9]{1,3})?")


class Direction:
    """One <direction>, or a <sound> that stands alone, while it is read."""

    def __init__(self) -> None:
        self.offset = Fraction(0)
        self.words: list[str] = []
        self.marks: list[str] = []
        self.units: list[Fraction] = []
        self.per_minute = ""
        self.sound: Attributes = {}
        self.metronome = False
        self.signs: set[str] = set()

    def dot(self) -> None:
        """Make the note value of the metronome mark longer by half of it, or by half of its last dot."""
        if self.units:
            plain_value = max(value for value in NOTE_VALUES.values() if value <= self.units[-1])
            self.units[-1] = (self.units[-1] + 2 * plain_value) / 2

    @property
    def quarters(self) -> float | None:
        """Quarter notes a minute in figures: those that are printed, else those that are played."""
        if len(self.units) == 1:
            found = [float(text) for text in _NUMBERS.findall(self.per_minute)][:2]
            if found:
                return believed(sum(found) / len(found) * float(self.units[0]))
        played = number_of(self.sound.get("tempo", ""))
        return None if played is None else believed(float(played))

    @property
    def equation(self) -> Fraction | None:
        """How many times as fast the quarter notes go after an equation of note values, 1 for ♩ = ♩."""
        return self.units[1] / self.units[0] if len(self.units) == 2 else None

    @property
    def turns(self) -> frozenset[str]:
        """Fields of `Turn` that are set here."""
        found = {field for name, field in JUMPS.items() if self.sound.get(name)} | self.signs
        text = plain(" ".join(self.words))
        found |= {field for words, field in _WORDS if words.fullmatch(text)}
        if "dal_segno" in found or "da_capo" in found:
            found -= {"fine", "to_coda"}
        return frozenset(found)


def believed(quarters: float) -> float | None:
    """A tempo, unless nothing can be played at it."""
    low, high = TEMPO_LIMITS
    return quarters if low <= quarters <= high else None
