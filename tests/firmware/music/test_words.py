"""The room's words: every name is read back as what it was, in every language."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import UnknownNameError
from firmware.music.degree_names import MOVABLE_DO, degree_names_named
from firmware.music.keys import key_of
from firmware.music.languages import LANGUAGES, language_named
from firmware.music.languages.german import GERMAN
from firmware.music.modes import MODES, mode_named
from firmware.music.moving.qualities import BY_SIGN
from firmware.music.moving.symbols import chord_symbol
from firmware.music.note_names import ALL_NAMES, NoteNames
from firmware.music.notes import PitchName
from firmware.music.transposition import INSTRUMENTS
from firmware.music.words import Words, words_of

BY_LANGUAGE = pytest.mark.parametrize("language", LANGUAGES, ids=lambda one: one.name)


@BY_LANGUAGE
@given(name=st.sampled_from([one for one in ALL_NAMES if abs(one.alter) <= 1]), sign=st.sampled_from(sorted(BY_SIGN)))
def test_a_chord_is_read_back_as_what_it_was(language: NoteNames, name: PitchName, sign: str) -> None:
    words = Words(language)
    for text in (name.plain + sign, f"{name.plain}{sign}/{name.plain}"):
        assert words.read_chord(words.chord(text)) == text
    key = key_of("C")
    assert chord_symbol(words.read_chord(words.chord(name.text + sign)), key).root == name.semitones


def test_numerals_and_lengths_are_the_same_everywhere() -> None:
    words = Words(GERMAN)
    assert words.chords("I:4 vi:2 bII B♭7:2 Bb F#m/A") == "I:4 vi:2 bII B7:2 B Fism/A"
    assert words.read_chords("I:4 vi:2 bII | B7:2 Hm Asus4 Assus4 Es") == "I:4 vi:2 bII | Bb7:2 Bm Asus4 Absus4 Eb"
    assert words.chords("fifths") == "fifths"
    with pytest.raises(UnknownNameError, match="B7, Fism"):
        words.read_chords("Bb7")


def test_names_inside_other_texts_are_said_too() -> None:
    words = Words(GERMAN)
    assert (words.note("B♭2"), words.note("C♯-1"), words.note("F𝄪4")) == ("B2", "Cis-1", "F𝄪4")
    assert (words.key("B♭ major"), words.key("B half-diminished seventh")) == ("B major", "H half-diminished seventh")
    assert [words.part(text) for text in ("in B♭", "clarinet in A", "horn in E♭", "in tune")] == [
        "in B", "clarinet in A", "horn in Es", "in tune"]  # fmt: skip
    assert words.part("E♭ bass, treble clef") == "Es bass, treble clef"
    assert words.name("B♭2") == "B♭2"
    for instrument in INSTRUMENTS:
        for text in (instrument.title, instrument.badge):
            assert "♭" not in words.part(text)
            assert Words().part(text) == text


@pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.name)
def test_every_degree_has_a_syllable_that_is_read_back(mode: object) -> None:
    known = mode_named(getattr(mode, "name"))  # noqa: B009 - a mode, typed as an object for the ids
    for tone in known.tones:
        syllable = MOVABLE_DO.say(tone.label, known)
        assert MOVABLE_DO.read(syllable) == tone.semitones


def test_movable_do_is_do_based_in_minor() -> None:
    minor = mode_named("minor")
    assert [MOVABLE_DO.say(str(n), minor) for n in range(1, 8)] == ["do", "re", "me", "fa", "sol", "le", "te"]
    words = words_of({"note_names": "german", "degree_names": "movable-do"})
    assert (words.degree("♯7", "minor"), words.degree("♭2", "major"), words.degree("♯4", "Dorian")) == (
        "ti",
        "ra",
        "fi",
    )
    assert (words.degree("3", "no mode"), words.degree("x", "major")) == ("3", "x")
    assert MOVABLE_DO.read("so") is None


def test_unknown_names_of_names_are_refused() -> None:
    with pytest.raises(UnknownNameError):
        language_named("klingon")
    with pytest.raises(UnknownNameError):
        degree_names_named("colours")
