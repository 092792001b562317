"""How notes are called: to add a language, put a file here and name it below."""

from __future__ import annotations

from firmware.errors import UnknownNameError
from firmware.music.languages.english import ENGLISH
from firmware.music.languages.fixed_do import FIXED_DO
from firmware.music.languages.german import GERMAN
from firmware.music.note_names import NoteNames

LANGUAGES: tuple[NoteNames, ...] = (ENGLISH, GERMAN, FIXED_DO)


def language_named(name: str) -> NoteNames:
    """Find note names by the name of their language."""
    for language in LANGUAGES:
        if language.name == name:
            return language
    raise UnknownNameError("note names", name, (language.name for language in LANGUAGES))
