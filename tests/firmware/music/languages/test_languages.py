"""Languages of note names: every name is read back as what it was, in every one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import UnknownNameError
from firmware.music.keys import ALL_TONICS
from firmware.music.languages import LANGUAGES
from firmware.music.languages.english import ENGLISH
from firmware.music.languages.fixed_do import FIXED_DO
from firmware.music.languages.german import GERMAN
from firmware.music.note_names import ALL_NAMES, NoteNames
from firmware.music.notes import PitchName

BY_LANGUAGE = pytest.mark.parametrize("language", LANGUAGES, ids=lambda one: one.name)


@BY_LANGUAGE
def test_every_name_is_read_back_as_what_it_was(language: NoteNames) -> None:
    for name in ALL_NAMES:
        assert language.read(language.say(name)) == name
        assert language.read(language.plain(name)) == name
        assert language.read(f" {language.say(name).lower()} ") == name


@BY_LANGUAGE
def test_no_two_names_are_written_alike(language: NoteNames) -> None:
    assert len({language.say(name).lower() for name in ALL_NAMES}) == len(ALL_NAMES)


@given(st.sampled_from(LANGUAGES), st.text(alphabet="abcdefghilmorsABCDEFGHSLMRF♭♯#ésu", max_size=8))
def test_what_can_be_read_is_said_and_read_again(language: NoteNames, text: str) -> None:
    try:
        name = language.read(text)
    except UnknownNameError:
        return
    assert language.read(language.say(name)) == name


def test_b_is_the_flat_in_german_and_h_the_natural() -> None:
    assert GERMAN.read("B") == PitchName("B", -1) == ENGLISH.read("Bb") == FIXED_DO.read("Sib")
    assert GERMAN.read("H") == PitchName("B") == ENGLISH.read("B") == FIXED_DO.read("Si")
    assert [GERMAN.say(ENGLISH.read(name)) for name in ("F#", "Eb", "Ab", "C#", "Bbb")] == [
        "Fis", "Es", "As", "Cis", "Heses"]  # fmt: skip


@pytest.mark.parametrize(
    ("language", "text"),
    [(GERMAN, "Bb"), (GERMAN, "B♭"), (GERMAN, "Bes"), (GERMAN, "F#"), (ENGLISH, "H"), (ENGLISH, "Fis"),
     (FIXED_DO, "C"), (FIXED_DO, "Sol##"), (FIXED_DO, "Do♭♯"), (ENGLISH, "Do")],
)  # fmt: skip
def test_a_name_of_another_language_is_refused(language: NoteNames, text: str) -> None:
    if text == "Sol##":
        assert language.read(text) == PitchName("G", 2)
        return
    with pytest.raises(UnknownNameError):
        language.read(text)


def test_what_is_allowed_is_listed_in_the_language() -> None:
    with pytest.raises(UnknownNameError) as refused:
        GERMAN.read("Bb", ALL_TONICS, "tonic")
    assert "Es, B, F" in refused.value.allowed
    assert "Fis" in refused.value.allowed
    with pytest.raises(UnknownNameError):
        GERMAN.read("Fes", ALL_TONICS, "tonic")
