"""A rehearsal with its notes, keys, parts and degrees as the room calls them; its files keep English and figures.

Written notes stay English here, because the sheet puts them in order by their names; whoever shows one says it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from firmware.music.words import Words
from firmware.sheet.rehearsal import ChordCheck, DrillAnswer, HeldNote, Rehearsal

NO_MODE: Final = ""


def in_words(rehearsal: Rehearsal) -> Rehearsal:
    """The rehearsal in its own words."""
    words = rehearsal.words
    if words == Words():
        return rehearsal
    modes = {mode_of(span.key) for span in rehearsal.keys}
    # Of an answer only the degree was kept: where modes changed, its syllable could be either.
    mode = modes.pop() if len(modes) == 1 else NO_MODE
    return replace(
        rehearsal,
        keys=tuple(replace(span, key=words.key(span.key)) for span in rehearsal.keys),
        notes=tuple(_note(note, words) for note in rehearsal.notes),
        answers=tuple(words.degree(degree, mode) for degree in rehearsal.answers),
        chords=tuple(_chord(check, words, _mode_at(rehearsal, check.start_s)) for check in rehearsal.chords),
        drills=tuple(_drill(answer, words, _mode_at(rehearsal, answer.at_s)) for answer in rehearsal.drills),
        reading=words.part(rehearsal.reading),
    )


def mode_of(key: str) -> str:
    """The mode of a key as it is written, B♭ major."""
    return key.partition(" ")[2]


def _mode_at(rehearsal: Rehearsal, seconds: float) -> str:
    before = [span.key for span in rehearsal.keys if span.start_s <= seconds]
    return mode_of(before[-1]) if before else NO_MODE


def _note(note: HeldNote, words: Words) -> HeldNote:
    return replace(
        note,
        key=words.key(note.key),
        degree=words.degree(note.degree, mode_of(note.key)),
        figure=note.degree,
        concert=words.note(note.concert),
        section=words.part(note.section),
    )


def _chord(check: ChordCheck, words: Words, mode: str) -> ChordCheck:
    members = tuple(
        replace(one, degree=words.degree(one.degree, mode), note=words.note(one.note)) for one in check.members
    )
    return replace(check, chord=words.key(check.chord), degree=words.degree(check.degree, mode), members=members)


def _drill(answer: DrillAnswer, words: Words, mode: str) -> DrillAnswer:
    return replace(answer, degree=words.degree(answer.degree, mode))
