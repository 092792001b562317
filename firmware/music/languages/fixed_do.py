"""Fixed do, as Romance languages name notes: Do Re Mi Fa Sol La Si with ♭ and ♯. Common practice; ré is read too."""

from __future__ import annotations

import re

from firmware.music.languages.english import ENGLISH
from firmware.music.note_names import NoteNames, table_of
from firmware.music.notes import LETTERS, PitchName

SYLLABLES = ("Do", "Re", "Mi", "Fa", "Sol", "La", "Si")

_NAME = re.compile(r"\s*(?P<syllable>do|r[eé]|mi|fa|sol|la|si)(?P<signs>[b♭𝄫#♯x𝄪♮]{0,3})\s*", re.IGNORECASE)


def _syllable(name: PitchName) -> str:
    return SYLLABLES[LETTERS.index(name.letter)]


def _read(text: str) -> PitchName | None:
    found = _NAME.fullmatch(text)
    if found is None:
        return None
    syllable = found["syllable"].lower().replace("é", "e").capitalize()
    return ENGLISH.reads(LETTERS[SYLLABLES.index(syllable)] + found["signs"])


FIXED_DO = NoteNames(
    name="fixed-do",
    title="fixed do",
    texts=table_of(lambda name: _syllable(name) + name.text[1:]),
    plains=table_of(lambda name: _syllable(name) + name.plain[1:]),
    reads=_read,
)
