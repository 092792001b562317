"""Keys spell and label every tone."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import UnknownNameError
from firmware.music.keys import (
    ALL_TONICS,
    KNOB_ORDERS,
    TONICS,
    Key,
    key_of,
    knob_tonics,
    semitones_of,
    turned,
    with_mode,
)
from firmware.music.modes import MODES, Mode, mode_named
from firmware.music.notes import LETTERS, PitchName
from firmware.settings import setting_named

tonics = st.builds(PitchName, st.sampled_from(LETTERS), st.integers(-1, 1))
keys = st.builds(Key, tonics, st.sampled_from(MODES))
modes = st.sampled_from(MODES)


@given(keys)
def test_a_seven_note_scale_has_each_letter_once(key: Key) -> None:
    letters = [name.letter for name in key.scale()]
    if key.mode.name != "chromatic":
        start = LETTERS.index(key.tonic.letter)
        assert letters == [LETTERS[(start + step) % 7] for step in range(7)]


@given(keys, st.integers(-30, 30))
def test_a_spelled_tone_has_the_right_pitch(key: Key, semitones: int) -> None:
    assert key.spell(semitones).semitones == (key.tonic.semitones + semitones) % 12
    assert key.spell(semitones) == key.spell(semitones + 12)
    assert key.label(semitones) == key.label(semitones % 12)


@given(keys)
def test_the_twelve_names_differ(key: Key) -> None:
    assert len({key.spell(n) for n in range(12)}) == 12
    assert key.spell(0) == key.tonic


@pytest.mark.parametrize(
    ("tonic", "mode", "scale"),
    [
        ("Bb", "major", "B♭ C D E♭ F G A"),
        ("Db", "major", "D♭ E♭ F G♭ A♭ B♭ C"),
        ("C#", "minor", "C♯ D♯ E F♯ G♯ A B"),
        ("Eb", "dorian", "E♭ F G♭ A♭ B♭ C D♭"),
        ("F#", "lydian", "F♯ G♯ A♯ B♯ C♯ D♯ E♯"),
        ("G", "harmonic-minor", "G A B♭ C D E♭ F♯"),
        ("G", "melodic-minor", "G A B♭ C D E F♯"),
    ],
)
def test_scales_as_they_are_written(tonic: str, mode: str, scale: str) -> None:
    assert " ".join(name.text for name in key_of(tonic, mode).scale()) == scale


def test_the_fifteen_tonics_lie_a_fifth_apart() -> None:
    assert " ".join(name.plain for name in TONICS) == "Cb Gb Db Ab Eb Bb F C G D A E B F# C#"
    assert [key_of(name, "major").signature for name in TONICS] == list(range(-7, 8))


@pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.name)
@pytest.mark.parametrize("order", KNOB_ORDERS)
def test_the_knob_holds_every_pitch_once_in_writable_keys(mode: Mode, order: str) -> None:
    names = knob_tonics(mode, order)
    assert sorted(name.semitones for name in names) == list(range(12))
    assert all(abs(Key(name, mode).signature) <= 6 for name in names)
    steps = {(b.semitones - a.semitones) % 12 for a, b in zip(names, (*names[1:], names[0]), strict=True)}
    assert steps == ({7} if order == "fifths" else {1})


def test_the_knob_of_a_band() -> None:
    assert " ".join(n.text for n in knob_tonics(mode_named("major"))) == "G♭ D♭ A♭ E♭ B♭ F C G D A E B"
    assert " ".join(n.text for n in knob_tonics(mode_named("minor"))) == "E♭ B♭ F C G D A E B F♯ C♯ G♯"
    assert knob_tonics(mode_named("major"), "semitones")[0].text == "C"


@given(keys, st.integers(-40, 40), st.sampled_from(KNOB_ORDERS))
def test_turning_there_and_back_returns_to_the_same_pitch(key: Key, steps: int, order: str) -> None:
    there = turned(key, steps, order)
    assert turned(there, -steps, order).tonic.semitones == key.tonic.semitones
    assert (there.tonic.semitones - key.tonic.semitones - steps * (7 if order == "fifths" else 1)) % 12 == 0
    assert there.mode == key.mode


@given(keys, modes)
def test_another_mode_keeps_the_pitch_of_the_tonic(key: Key, mode: Mode) -> None:
    changed = with_mode(key, mode)
    assert changed.tonic.semitones == key.tonic.semitones
    assert changed.mode is mode
    assert abs(changed.signature) <= 7


def test_another_mode_respells_only_when_it_must() -> None:
    assert with_mode(key_of("Db"), mode_named("minor")).tonic.text == "C♯"
    assert with_mode(key_of("Ab"), mode_named("minor")).tonic.text == "A♭"
    assert with_mode(key_of("Bb"), mode_named("minor")).tonic.text == "B♭"


@given(keys, st.integers(0, 23))
def test_degrees_read_back(key: Key, semitones: int) -> None:
    label = key.label(semitones)
    number = int(label[-1]) + 7 * (semitones // 12)
    for sign in {label[:-1], label[:-1].replace("♭", "b").replace("♯", "#")}:
        assert semitones_of(key, f" {sign}{number}") == semitones


@pytest.mark.parametrize("bad", ["", "0", "15", "♭", "b4", "♭♭7", "third", "1.5", "٣", "-1"])
def test_degrees_that_are_not_there_are_named(bad: str) -> None:
    with pytest.raises(UnknownNameError, match=r"degree .*1, ♭2, 2, ♭3"):
        semitones_of(key_of("C", "major"), bad)


def test_key_words() -> None:
    assert key_of("Bb").text == "B♭ major"
    assert key_of("f#", "harmonic-minor").text == "F♯ harmonic minor"
    assert key_of(PitchName("D"), mode_named("dorian")) == key_of("D", "dorian")


def test_unknown_names_say_what_there_is() -> None:
    with pytest.raises(UnknownNameError, match="tonic"):
        key_of("Bbb", "major")
    with pytest.raises(UnknownNameError, match="note name"):
        key_of("H", "major")
    with pytest.raises(UnknownNameError, match="mode"):
        key_of("C", "blues")
    with pytest.raises(UnknownNameError, match="order of tonics"):
        knob_tonics(mode_named("major"), "thirds")


def test_every_tonic_that_the_knob_can_reach_may_be_kept():
    reached = {tonic for mode in MODES for tonic in knob_tonics(mode)}
    assert reached <= set(ALL_TONICS)
    assert all(setting_named("tonic").accepts(tonic.plain) for tonic in reached)
