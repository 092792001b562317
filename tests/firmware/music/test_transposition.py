"""Written and sounding pitch."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import UnknownNameError
from firmware.music.keys import Key, key_of, knob_tonics
from firmware.music.modes import MODES
from firmware.music.notes import LETTERS, Note, PitchName, parse_note
from firmware.music.transposition import INSTRUMENTS, Instrument, concert, instrument_named, written, written_key

names = st.builds(PitchName, st.sampled_from(LETTERS), st.integers(-1, 1))
notes = st.builds(Note, names, st.integers(0, 8))
any_note = st.builds(Note, st.builds(PitchName, st.sampled_from(LETTERS), st.integers(-3, 3)), st.integers(0, 8))
instruments = st.sampled_from(INSTRUMENTS)
keys = st.sampled_from([Key(tonic, mode) for mode in MODES for tonic in knob_tonics(mode)])


@given(notes, instruments)
def test_written_and_back(note: Note, instrument: Instrument) -> None:
    assert concert(written(note, instrument), instrument) == note


@given(any_note, instruments)
def test_pitches_move_by_the_transposition_whatever_the_spelling(note: Note, instrument: Instrument) -> None:
    there = written(note, instrument)
    assert there.midi == note.midi + instrument.semitones
    assert abs(there.name.alter) <= 2
    assert concert(note, instrument).midi == note.midi - instrument.semitones


@pytest.mark.parametrize(
    ("name", "sounds", "reads"),
    [
        ("concert", "Bb3", "B♭3"),
        ("trumpet", "Bb3", "C4"),
        ("clarinet", "Db4", "E♭4"),
        ("alto-saxophone", "Bb3", "G4"),
        ("tenor-saxophone", "Bb2", "C4"),
        ("baritone-saxophone", "Bb1", "G3"),
        ("horn", "Bb3", "F4"),
        ("clarinet-in-e-flat", "Eb5", "C5"),
        ("piccolo", "D6", "D5"),
        ("double-bass", "E1", "E2"),
        ("glockenspiel", "C6", "C4"),
        ("bass-clarinet", "Bb2", "C4"),
        ("euphonium-treble", "Bb2", "C4"),
    ],
)
def test_what_players_read(name: str, sounds: str, reads: str) -> None:
    assert written(parse_note(sounds), instrument_named(name)).text == reads


@given(keys, instruments)
def test_written_keys_have_at_most_six_accidentals(key: Key, instrument: Instrument) -> None:
    there = written_key(key, instrument)
    assert abs(there.signature) <= 6
    assert (there.tonic.semitones - key.tonic.semitones - instrument.semitones) % 12 == 0


@given(keys, instruments, st.integers(0, 11))
def test_a_written_note_is_spelled_as_its_key_spells_it(key: Key, instrument: Instrument, semitones: int) -> None:
    note = Note(key.spell(semitones), 4)
    there, wanted = written(note, instrument, key), written_key(key, instrument).spell(semitones)
    assert there.midi == note.midi + instrument.semitones
    assert there.name == wanted if wanted.alter >= -1 else there.name.alter >= -1


def test_seven_sharps_become_five_flats() -> None:
    trumpet = instrument_named("trumpet")
    b_major = key_of("B", "major")
    assert written_key(b_major, trumpet).text == "D♭ major"
    assert written(parse_note("D#4"), trumpet, b_major).text == "F4"
    assert written(parse_note("D#4"), trumpet).text == "E♯4"
    assert written(parse_note("C4"), trumpet, b_major).text == "D4"


def test_an_unknown_instrument_is_named_with_all_there_are() -> None:
    with pytest.raises(UnknownNameError, match=r"instrument 'trumpit'.*concert.*Did you mean 'trumpet'"):
        instrument_named("trumpit")
