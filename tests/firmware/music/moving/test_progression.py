"""Progressions read from text, tuned and led."""

from __future__ import annotations

import pytest

from firmware.errors import OutOfRangeError, UnknownNameError
from firmware.music.harmony import Harmony, tones_of
from firmware.music.keys import key_of
from firmware.music.moving.choices import choice_named
from firmware.music.moving.progression import held, progression_of
from firmware.music.naming import name_pitch

KEY = key_of("Bb", "major")


def test_chords_have_their_beats():
    found = progression_of("I:4 | vi:2 ii:2 | V7", KEY)
    assert [(step.symbol.text, step.beats) for step in found.steps] == [("I", 4), ("vi", 2), ("ii", 2), ("V7", 0)]
    assert [found.after(place) for place in range(4)] == [1, 2, 3, 0]
    assert len(found.ways) == 4


def test_names_and_numerals_may_stand_together():
    assert [step.symbol.root for step in progression_of("B♭ E♭ F7 I", KEY).steps] == [0, 5, 7, 0]


def test_nothing_is_an_empty_progression():
    assert progression_of(" | ", KEY).steps == ()


@pytest.mark.parametrize(
    ("text", "error"),
    [("I:0", OutOfRangeError), ("I:65", OutOfRangeError), ("I:", UnknownNameError), ("I:x", UnknownNameError)],
)
def test_bad_beats_are_named(text, error):
    with pytest.raises(error):
        progression_of(text, KEY)


def test_too_many_chords_are_refused():
    with pytest.raises(OutOfRangeError, match="at most 200"):
        progression_of("I " * 201, KEY)


def test_voices_sound_the_tuned_chord():
    progression = progression_of("I IV", KEY)
    first = held(progression, 0, Harmony(KEY), choice_named("common"), None)
    after = held(progression, 1, Harmony(KEY), choice_named("common"), first.tuned).chord
    assert first.chord.voices[0][1].fraction == 1
    for semitones, interval in after.voices:
        assert interval.cents == pytest.approx(100 * semitones, abs=16)
    bass, *upper = after.voices
    assert bass[0] % 12 == 5
    for semitones, interval in upper:
        low = dict(first.chord.voices).get(semitones)
        assert low is None or low == interval


@pytest.mark.parametrize(
    ("text", "roles"),
    [("V7", "ROOT THIRD FIFTH SEVENTH"), ("Fsus4", "ROOT THIRD FIFTH"), ("vii°7", "ROOT THIRD FIFTH SEVENTH")],
)
def test_every_member_has_its_role(text, roles):
    chord = held(progression_of(text, KEY), 0, Harmony(KEY), choice_named("tonic"), None).chord
    assert [member.role.name for member, _, _ in chord.members] == roles.split()
    assert all(chord.role_of(n) == member.role for member, n, _ in chord.members)


def test_a_harmony_that_holds_a_chord_sounds_and_names_it():
    key = key_of("C", "major")
    pump = progression_of("I vi ii V", key)
    chord = None
    for place in (0, 1, 2, 3, 0):
        found = held(pump, place, Harmony(key), choice_named("common"), chord)
        chord = found.tuned
    harmony = Harmony(key, held=found.chord, chord_degree=found.chord.root)
    tones = tones_of(harmony)
    assert [tone.note.name.text for tone in tones if tone.degree == "1"]
    # The chord has fallen by a comma, and so have its targets; the note keeps its octave.
    c4 = 440 * 2 ** (-9 / 12)
    named = name_pitch(c4 * 80 / 81, harmony)
    assert (named.note.text, named.cents) == ("C4", pytest.approx(0, abs=1e-6))
    lowest = harmony.tonic(harmony.octave).midi
    for tone in tones:
        softer = -3 if tone.degree == "3" else 0
        assert tone.level_db == softer - 3 * ((tone.note.midi - lowest) // 12)
