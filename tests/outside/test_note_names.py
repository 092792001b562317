"""Note names and syllables against music21, an oracle in tests only: German, Spanish, French, Italian; movable do."""

from __future__ import annotations

import warnings
from typing import Any

import pytest

from firmware.music.degree_names import MOVABLE_DO
from firmware.music.languages.fixed_do import FIXED_DO
from firmware.music.languages.german import GERMAN
from firmware.music.modes import mode_named
from firmware.music.note_names import ALL_NAMES
from firmware.music.notes import LETTERS, PitchName

with warnings.catch_warnings():
    # Python may warn about a library's source when it first compiles it; that is not ours.
    warnings.simplefilter("ignore", SyntaxWarning)
    warnings.simplefilter("ignore", DeprecationWarning)
    from music21 import pitch, scale

_major: Any = scale.MajorScale  # untyped there


def _theirs(name: PitchName) -> pitch.Pitch:
    return pitch.Pitch(name.letter + ("#" if name.alter > 0 else "-") * abs(name.alter))


@pytest.mark.parametrize("name", ALL_NAMES, ids=lambda name: name.plain)
def test_german_names_are_music21s(name: PitchName) -> None:
    assert GERMAN.say(name) == _theirs(name).german


@pytest.mark.parametrize("letter", LETTERS)
def test_the_syllables_of_fixed_do_are_those_of_three_romance_languages(letter: str) -> None:
    said = FIXED_DO.say(PitchName(letter)).lower()
    theirs = _theirs(PitchName(letter))
    assert {said} == {theirs.spanish, theirs.french.replace("é", "e"), theirs.italian}


@pytest.mark.parametrize(("alter", "word"), [(-1, "bemol"), (1, "sostenido")])
@pytest.mark.parametrize("letter", LETTERS)
def test_accidentals_of_fixed_do_stand_behind_the_syllable(letter: str, alter: int, word: str) -> None:
    syllable, _, accidental = _theirs(PitchName(letter, alter)).spanish.partition(" ")
    sign = {"bemol": "♭", "sostenido": "♯"}[accidental]
    assert accidental == word
    assert FIXED_DO.say(PitchName(letter, alter)) == syllable.capitalize() + sign


@pytest.mark.parametrize("tonic", ["C", "Eb", "F#"])
def test_movable_do_of_major_is_music21s(tonic: str) -> None:
    """Naturals, and each raised or lowered degree that a mode of the box names; the syllables of scale.solfeg."""
    major = mode_named("major")
    theirs: Any = _major(tonic.replace("b", "-"))
    start = theirs.getTonic()
    for step, semitones, letter_alter in (
        (0, 1, 1), (1, 1, -1), (1, 2, 0), (1, 3, 1), (2, 3, -1), (2, 4, 0), (3, 4, -1), (3, 5, 0), (3, 6, 1),
        (4, 6, -1), (4, 7, 0), (4, 8, 1), (5, 8, -1), (5, 9, 0), (5, 10, 1), (6, 10, -1), (6, 11, 0), (0, 0, 0),
    ):  # fmt: skip
        tone = theirs.pitchFromDegree(step + 1)
        altered = tone if not letter_alter else _altered(tone, letter_alter)
        assert (altered.ps - start.ps) % 12 == semitones
        assert MOVABLE_DO.syllables[(step, semitones)] == theirs.solfeg(altered)
    assert [MOVABLE_DO.say(str(n), major) for n in range(1, 8)] == [
        theirs.solfeg(theirs.pitchFromDegree(n)) for n in range(1, 8)
    ]


def _altered(tone: pitch.Pitch, by: int) -> pitch.Pitch:
    changed = pitch.Pitch(tone.name)
    changed.accidental = pitch.Accidental(tone.alter + by)
    return changed
