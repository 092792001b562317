"""Names of notes, keys, chords, parts and degrees as the room says them, made from the English ones and read again."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from firmware.errors import KeelnoteError, UnknownNameError
from firmware.music.degree_names import FIGURES, DegreeNames, degree_names_named
from firmware.music.languages import language_named
from firmware.music.languages.english import ENGLISH
from firmware.music.modes import mode_named
from firmware.music.moving.qualities import BY_SIGN
from firmware.music.moving.symbols import FORMS, is_numeral
from firmware.music.note_names import NoteNames
from firmware.music.notes import PitchName

_NOTE: Final = re.compile(r"(?P<name>[A-G](?:[b♭]{0,3}|[#♯]{0,3}))(?P<octave>[-−]?[0-9]{1,2})?")
_CHORD: Final = re.compile(r"(?P<root>[A-G][b♭#♯]?)(?P<sign>[^/]*)(?:/(?P<bass>[A-G][b♭#♯]?))?")
_PART: Final = re.compile(r"(?P<before>(?:.* )?in )(?P<name>[A-G][b♭#♯]?)|(?P<bass>[A-G][b♭#♯])(?P<after> .*)")
_LENGTH: Final = re.compile(r"(?P<chord>[^:]+)(?P<beats>:.*)?")
_LONGEST_NAME: Final = 8
"""Characters of a root that are tried: Heseses and Sol with three signs are the longest names."""


@dataclass(frozen=True, slots=True)
class Words:
    """The room's words. What is given to `name` to `part` is English; a text that is no such name stays as it is."""

    notes: NoteNames = ENGLISH
    degrees: DegreeNames = FIGURES

    def name(self, text: str) -> str:
        """A pitch name: B♭ or Bb."""
        found = _NOTE.fullmatch(text)
        return text if found is None or found["octave"] else self._said(text)

    def note(self, text: str) -> str:
        """A pitch name, or a note with its octave number: B♭2."""
        found = _NOTE.fullmatch(text)
        return text if found is None else self._said(found["name"]) + (found["octave"] or "")

    def key(self, text: str) -> str:
        """A text that begins with a pitch name, such as a key: B♭ major."""
        first, space, rest = text.partition(" ")
        return self.name(first) + space + rest

    def chord(self, text: str) -> str:
        """The name of a chord, B♭7 or F7/A; a Roman numeral is the same everywhere."""
        found = None if is_numeral(text) else _CHORD.fullmatch(text)
        if found is None or found["sign"] not in BY_SIGN:
            return text
        bass = f"/{self._said(found['bass'])}" if found["bass"] else ""
        return self._said(found["root"]) + found["sign"] + bass

    def chords(self, text: str) -> str:
        """A progression: chords with or without their beats, I:4 B♭7:2; or a list of tonics."""
        return " ".join(_each(word, self.chord) for word in text.split(" "))

    def part(self, text: str) -> str:
        """A part with its transposition: clarinet in B♭, in E♭, E♭ bass."""
        found = _PART.fullmatch(text)
        if found is None:
            return text
        if found["name"]:
            return found["before"] + self._said(found["name"])
        return self._said(found["bass"]) + found["after"]

    def degree(self, label: str, mode: str) -> str:
        """A degree as a mode counts it: ♭3; the mode by its name or title."""
        try:
            return self.degrees.say(label, mode_named(mode))
        except UnknownNameError:
            return label

    def read_chord(self, text: str) -> str:
        """Read a chord as the room writes it; what comes back is English.

        Raises
        ------
        UnknownNameError
            If it is neither a Roman numeral nor the name of a chord.
        """
        head, slash, bass = text.partition("/")
        if is_numeral(text):
            return text
        for end in range(min(_LONGEST_NAME, len(head)), 0, -1):
            root, sign = self.notes.reads(head[:end]), head[end:]
            if root is not None and abs(root.alter) <= 1 and sign in BY_SIGN:
                return root.plain + sign + slash + (self.notes.read(bass).plain if slash else "")
        example = f"{self.notes.plain(PitchName('B', -1))}7, {self.notes.plain(PitchName('F', 1))}m"
        raise UnknownNameError("chord", text, (FORMS, f"here roots in {self.notes.title} names such as {example}"))

    def read_chords(self, text: str) -> str:
        """Read a progression, or a list of tonics, as the room writes it; what comes back is English."""
        return " ".join(_each(word, self.read_chord) for word in text.replace("|", " | ").split())

    def _said(self, text: str) -> str:
        """A name in the room's language; plain letters stay plain, and what is beyond every name stays as it is."""
        try:
            found = ENGLISH.read(text)
        except KeelnoteError:
            return text
        return self.notes.plain(found) if text == found.plain else self.notes.say(found)


def _each(word: str, change: Callable[[str], str]) -> str:
    """One chord of a progression with the beats behind it; a bar line stays."""
    found = _LENGTH.fullmatch(word)
    return word if found is None or word == "|" else change(found["chord"]) + (found["beats"] or "")


def words_of(values: Mapping[str, object]) -> Words:
    """The room's words, by its settings `note_names` and `degree_names`; English and figures where they are not set."""
    notes = language_named(str(values.get("note_names", ENGLISH.name)))
    return Words(notes, degree_names_named(str(values.get("degree_names", FIGURES.name))))
