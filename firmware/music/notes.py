"""Pitch names and notes with their spelling: D♭ is not C♯."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from firmware.errors import OutOfRangeError, UnknownNameError

LETTERS = "CDEFGAB"
LETTER_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
"""Semitones of each letter above C."""

LARGEST_ALTER = 3
"""Accidentals a name may carry: B♯ major has a triple sharp, and nothing goes further."""

A4_MIDI = 69
"""Number of A4 in MIDI 1.0, where middle C (C4) is 60."""

_NAME = re.compile(r"\s*(?P<letter>[A-Ga-g])(?P<signs>(?:[b♭]|𝄫){0,3}|(?:[#♯x]|𝄪){0,3}|[n♮])\s*", re.IGNORECASE)
_NOTE = re.compile(_NAME.pattern + r"(?P<octave>[-−]?[0-9]{1,2})\s*", re.IGNORECASE)
_SIGNS: Mapping[str, int] = {"b": -1, "♭": -1, "𝄫": -2, "#": 1, "♯": 1, "x": 2, "𝄪": 2, "n": 0, "♮": 0}


@dataclass(frozen=True, slots=True)
class PitchName:
    """A letter from C to B with its accidentals: alter -1 is one flat, 1 one sharp."""

    letter: str
    alter: int = 0

    def __post_init__(self) -> None:
        if len(self.letter) != 1 or self.letter not in LETTERS:
            raise UnknownNameError("letter", self.letter, LETTERS)
        if abs(self.alter) > LARGEST_ALTER:
            allowed = f"at most {LARGEST_ALTER} flats or sharps"
            raise OutOfRangeError("accidentals of " + self.letter, self.alter, allowed)

    @property
    def text(self) -> str:
        """The name as musicians write it, B♭ or F♯."""
        return self.letter + ("♯" if self.alter > 0 else "♭") * abs(self.alter)

    @property
    def plain(self) -> str:
        """The name in plain letters, Bb or F#."""
        return self.letter + ("#" if self.alter > 0 else "b") * abs(self.alter)

    @property
    def above_c(self) -> int:
        """Semitones above the C of the same octave number; C♭ is -1 and B♯ 12."""
        return LETTER_SEMITONES[LETTERS.index(self.letter)] + self.alter

    @property
    def semitones(self) -> int:
        """Semitones above C, 0 to 11."""
        return self.above_c % 12

    @property
    def fifths(self) -> int:
        """Place on the line of fifths: C is 0, G 1, F -1, B♭ -2."""
        return "FCGDAEB".index(self.letter) - 1 + 7 * self.alter

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class Note:
    """A pitch name in an octave; C4 is middle C, and C♭4 lies below it."""

    name: PitchName
    octave: int

    @property
    def text(self) -> str:
        """The note as musicians write it, B♭2."""
        return f"{self.name.text}{self.octave}"

    @property
    def plain(self) -> str:
        """The note in plain letters, Bb2."""
        return f"{self.name.plain}{self.octave}"

    @property
    def midi(self) -> int:
        """Number as in MIDI 1.0, middle C = 60; notes beyond the MIDI range go on counting."""
        return 12 * (self.octave + 1) + self.name.above_c

    def equal_hz(self, a4: float = 440.0) -> float:
        """Frequency in equal temperament, in Hz; a4 is the reference for A4 (ISO 16: 440)."""
        return float(a4 * 2.0 ** ((self.midi - A4_MIDI) / 12))

    def __str__(self) -> str:
        return self.text


def note_at(name: PitchName, midi: int) -> Note:
    """Put a name into the octave where it has this MIDI number.

    Raises
    ------
    OutOfRangeError
        If the name does not belong to that number.
    """
    octave, rest = divmod(midi - name.above_c, 12)
    if rest:
        raise OutOfRangeError("MIDI number of " + name.text, midi, f"{name.semitones} more than a multiple of 12")
    return Note(name, octave - 1)


def parse_pitch_name(text: str) -> PitchName:
    """Read Bb, B♭, bb, F#, F♯ and the like; the first letter is always the name, the rest accidentals."""
    found = _NAME.fullmatch(text)
    if found is None:
        raise UnknownNameError("note name", text, NAMES)
    return _name_of(found, text)


def parse_note(text: str) -> Note:
    """Read a note with its octave number, -1 to 9: Bb2, F♯4, C-1."""
    found = _NOTE.fullmatch(text)
    if found is None:
        raise UnknownNameError("note", text, (name + "4" for name in NAMES))
    octave = int(found["octave"].replace("−", "-"))
    if not -1 <= octave <= 9:
        raise OutOfRangeError("octave number of " + text.strip(), octave, "-1 to 9, as in MIDI")
    return Note(_name_of(found, text), octave)


def _name_of(found: re.Match[str], text: str) -> PitchName:
    alter = sum(_SIGNS[sign] for sign in found["signs"].lower())
    if abs(alter) > LARGEST_ALTER:
        raise OutOfRangeError("note name", text, f"at most {LARGEST_ALTER} flats or sharps")
    return PitchName(found["letter"].upper(), alter)


NAMES = tuple(PitchName(letter, alter).plain for letter in LETTERS for alter in (-1, 0, 1))
"""Names with at most one accidental, as errors list them."""
