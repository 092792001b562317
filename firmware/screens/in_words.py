"""What a view shows, with notes, keys, parts and degrees as the room calls them.

All that the parts of the box put into a view is English and in figures; this is the one place where that changes.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from firmware.music.words import Words, words_of
from firmware.screens.view import DrillView, HeardNote, View

_SIGNS: Final = (("dim", "°"), ("aug", "+"), ("min", "m"), ("o", "°"), ("b", "♭"), ("#", "♯"))


def in_words(view: View) -> View:
    """The view in the room's words, by its settings `note_names` and `degree_names`."""
    words = words_of(view.values)
    mode = str(view.values.get("mode", view.mode))
    checked = tuple(replace(line, degree=words.degree(line.degree, mode)) for line in view.checked_degrees)
    return replace(
        view,
        tonic=words.name(view.tonic),
        chord=tuple(words.note(note) for note in view.chord),
        moving=words.chord(chord_sign(view.moving)),
        rungs=tuple(replace(rung, degree=words.degree(rung.degree, mode)) for rung in view.rungs),
        heard=None if view.heard is None else _heard(view.heard, words, mode),
        answering=words.note(view.answering),
        checked=words.key(view.checked),
        checked_degrees=checked,
        badge=words.part(view.badge),
        own_degree=words.degree(view.own_degree, mode),
        own_note=words.name(view.own_note),
        drill=_drill(view.drill, words, mode),
    )


def chord_sign(symbol: str) -> str:
    """A chord of a progression as it is written by hand: drawn accidentals, ° and + for words."""
    for word, sign in _SIGNS:
        symbol = symbol.replace(word, sign)
    return symbol


def _heard(heard: HeardNote, words: Words, mode: str) -> HeardNote:
    degree = words.degree(heard.degree, mode)
    return replace(heard, note=words.note(heard.note), written=words.note(heard.written), degree=degree)


def _drill(drill: DrillView, words: Words, mode: str) -> DrillView:
    """The degree and the note that a drill asks for stand in its large words."""
    return replace(drill, big=f"{words.degree(drill.degree, mode)}: {words.name(drill.note)}") if drill.note else drill
