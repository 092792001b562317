"""In which language a plan names its notes, and how its entries are read into English, which the box reckons in."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from firmware.errors import KeelnoteError, UnknownNameError
from firmware.music.keys import ALL_TONICS
from firmware.music.languages import LANGUAGES
from firmware.music.languages.english import ENGLISH
from firmware.music.moving.symbols import is_numeral
from firmware.music.note_names import NoteNames
from firmware.music.notes import PitchName
from firmware.music.words import Words
from firmware.settings import setting_named

Read = Callable[[str], str]

NAMED: Final = ("tonic", "tonics", "progression")
"""Settings that hold names of notes."""


def language_of(data: Mapping[str, Any], room: NoteNames) -> tuple[NoteNames, str]:
    """The language of a plan's note names, and a remark where that had to be guessed.

    A plan says it with `names`. One that does not is read as the room speaks, unless more of it can be read in another
    language. An English room needs no remark on that: without `names` English is usual.
    """
    declared = [language for language in LANGUAGES if language.name == data.get("names")]
    if declared:
        return declared[0], ""
    words = tuple(dict.fromkeys(_names_in(data)))
    order = (room, *(language for language in LANGUAGES if language != room))
    found = max(order, key=lambda language: sum(_read(word, language) is not None for word in words))
    if found != room:
        return found, f"the note names seem to be {found.title}, and are read so: {_write(found)} at the top"
    if found == ENGLISH:
        return found, ""
    doubtful = [word for word in words if _differs(word)]
    if not doubtful:
        return found, ""
    word = doubtful[0]
    note = _read(word, found)
    english = word if note is None else note.text
    first = f"{word} is read in {found.title}, as the room speaks: {english} in English"
    return found, f"{first}. To be sure, {_write(found)} or {_write(ENGLISH)} at the top"


def readers_in(language: NoteNames) -> Mapping[str, Read]:
    """How entries with note names are read, by the name of their setting; what comes back is English."""
    return {
        "tonic": _helped(language, lambda text: language.read(text, ALL_TONICS, "tonic").plain),
        "tonics": _helped(language, _list(language)),
        "progression": _helped(language, _progression(language)),
    }


def _write(language: NoteNames) -> str:
    return f'write names = "{language.name}"'


def _names_in(data: Mapping[str, Any]) -> Iterator[str]:
    """Names of notes and chords in a plan; words and numerals that all languages share are left out."""
    steps = data.get("step")
    for table in (data, *(steps if isinstance(steps, list) else ())):
        for key in NAMED if isinstance(table, dict) else ():
            text = table.get(key)
            if not isinstance(text, str) or (key != "tonic" and text in setting_named(key).choices):
                continue
            for word in text.replace("|", " ").replace(",", " ").split():
                chord = word.partition(":")[0]
                if not is_numeral(chord):
                    yield chord


def _read(word: str, language: NoteNames) -> PitchName | None:
    """The note, or the root of the chord, that a word means in a language."""
    try:
        return ENGLISH.reads(_root(Words(language).read_chord(word)))
    except KeelnoteError:
        return None


def _root(chord: str) -> str:
    return chord[:2] if chord[1:2] in ("b", "#") else chord[:1]


def _differs(word: str) -> bool:
    """Whether a word means different notes in different languages, as B does."""
    return len({found for language in LANGUAGES if (found := _read(word, language)) is not None}) > 1


def _list(language: NoteNames) -> Read:
    def read(text: str) -> str:
        setting = setting_named("tonics")
        if text.strip() in setting.choices:
            return text.strip()
        words = text.replace(",", " ").split()
        return str(setting.clean(" ".join(language.read(word, ALL_TONICS, "tonic").plain for word in words)))

    return read


def _progression(language: NoteNames) -> Read:
    def read(text: str) -> str:
        setting = setting_named("progression")
        english = text if language == ENGLISH or text in setting.choices else Words(language).read_chords(text)
        return str(setting.clean(english))

    return read


def _helped(language: NoteNames, read: Read) -> Read:
    """The same reader, which names the language when a name is one of another."""

    def reader(text: str) -> str:
        try:
            return read(text)
        except UnknownNameError as error:
            others = [other for other in LANGUAGES if other != language and other.reads(text) is not None]
            if not others:
                raise
            remedy = f"It is {others[0].title}; for a plan in {others[0].title} {_write(others[0])} at the top."
            raise KeelnoteError(error.thing, text, error.allowed, remedy) from error

    return reader
