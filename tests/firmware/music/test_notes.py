"""Notes keep their spelling."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError, UnknownNameError
from firmware.music.notes import LETTERS, Note, PitchName, note_at, parse_note, parse_pitch_name

names = st.builds(PitchName, st.sampled_from(LETTERS), st.integers(-3, 3))
notes = st.builds(Note, names, st.integers(-1, 9))


@given(names)
def test_names_read_back(name: PitchName) -> None:
    assert parse_pitch_name(name.text) == name
    assert parse_pitch_name(name.plain) == name
    assert parse_pitch_name(name.plain.lower()) == name
    assert parse_pitch_name(f" {name} ") == name


@given(notes)
def test_notes_read_back(note: Note) -> None:
    assert parse_note(note.text) == note
    assert parse_note(note.plain.lower()) == note
    assert parse_note(str(note).replace("-", "−")) == note


@given(notes)
def test_a_note_is_found_again_from_its_name_and_number(note: Note) -> None:
    assert note_at(note.name, note.midi) == note


@given(notes, st.integers(1, 11))
def test_a_number_that_does_not_fit_the_name_is_refused(note: Note, off: int) -> None:
    with pytest.raises(OutOfRangeError, match="MIDI number"):
        note_at(note.name, note.midi + off)


@pytest.mark.parametrize(
    ("text", "letter", "alter"),
    [
        ("Bb", "B", -1),
        ("B♭", "B", -1),
        ("bb", "B", -1),
        ("BB", "B", -1),
        ("b", "B", 0),
        ("F#", "F", 1),
        ("F♯", "F", 1),
        ("f♯", "F", 1),
        ("bbb", "B", -2),
        ("E𝄫", "E", -2),
        ("Fx", "F", 2),
        ("F𝄪", "F", 2),
        ("G♮", "G", 0),
    ],
)
def test_accepted_writings(text: str, letter: str, alter: int) -> None:
    assert parse_pitch_name(text) == PitchName(letter, alter)


@pytest.mark.parametrize("bad", ["", "H", "Bb2", "B#b", "♭B", "A-flat", "bbbbb", "C n"])
def test_other_writings_are_named_with_what_there_is(bad: str) -> None:
    with pytest.raises(UnknownNameError, match=r"note name .*Cb, C, C#, Db"):
        parse_pitch_name(bad)


@pytest.mark.parametrize("bad", ["", "C", "C4.5", "H4", "4", "C--1", "C٤"])
def test_notes_without_a_readable_octave_are_refused(bad: str) -> None:
    with pytest.raises(UnknownNameError, match="note"):
        parse_note(bad)


@pytest.mark.parametrize("bad", ["C-2", "C10", "C99"])
def test_octaves_beyond_midi_are_refused(bad: str) -> None:
    with pytest.raises(OutOfRangeError, match="octave"):
        parse_note(bad)


@pytest.mark.parametrize("bad", ["𝄪" * 2, "x𝄪", "𝄫♭♭", "♭𝄫♭"])
def test_too_many_accidentals_are_refused(bad: str) -> None:
    with pytest.raises(OutOfRangeError, match="at most 3"):
        parse_pitch_name("C" + bad)


def test_names_are_checked_when_made() -> None:
    with pytest.raises(UnknownNameError, match="letter"):
        PitchName("H")
    with pytest.raises(UnknownNameError, match="letter"):
        PitchName("CD")
    with pytest.raises(OutOfRangeError, match="accidentals of C"):
        PitchName("C", 4)


@pytest.mark.parametrize(("text", "midi"), [("B#3", 60), ("Cb4", 59), ("C4", 60), ("Bb2", 46), ("C-1", 0), ("G9", 127)])
def test_the_octave_belongs_to_the_letter(text: str, midi: int) -> None:
    assert parse_note(text).midi == midi


@given(notes)
def test_twelve_numbers_double_the_frequency(note: Note) -> None:
    higher = Note(note.name, note.octave + 1)
    assert higher.midi == note.midi + 12
    assert higher.equal_hz(442.0) == pytest.approx(2 * note.equal_hz(442.0), rel=1e-14)
    assert 12 * math.log2(note.equal_hz(442.0) / 442.0) == pytest.approx(note.midi - 69, abs=1e-9)


def test_enharmonic_names_differ_but_sound_alike() -> None:
    d_flat, c_sharp = parse_pitch_name("Db"), parse_pitch_name("C#")
    assert d_flat != c_sharp
    assert d_flat.semitones == c_sharp.semitones
    assert d_flat.fifths - c_sharp.fifths == -12


@given(st.text(max_size=8))
def test_any_text_gives_a_name_or_our_error(text: str) -> None:
    for parse in (parse_pitch_name, parse_note):
        with contextlib.suppress(UnknownNameError, OutOfRangeError):
            assert parse(parse(text).text) == parse(text)
