"""Progressions read from text, tuned and led."""

from __future__ import annotations

import pytest

from firmware.errors import OutOfRangeError, UnknownNameError
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.music.moving.choices import choice_named
from firmware.music.moving.progression import progression_of, voiced

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
    first = voiced(progression, 0, Harmony(KEY), choice_named("common"), None)
    after = voiced(progression, 1, Harmony(KEY), choice_named("common"), first.chord)
    assert first.voices[0][1].fraction == 1
    for semitones, interval in after.voices:
        assert interval.cents == pytest.approx(100 * semitones, abs=16)
    bass, *upper = after.voices
    assert bass[0] % 12 == 5
    for semitones, interval in upper:
        low = dict(first.voices).get(semitones)
        assert low is None or low == interval
