"""How the notes of a keyboard are tuned."""

from __future__ import annotations

import math

import pytest

from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.music.midi_tuning import SCALE_STEP_CENTS, read_tuning
from firmware.music.moving.keyboard import BY_KEY, Fingered, fingered, hz_of, offsets_of, tuning_message

C = Harmony(key_of("C", "major"))
NONE = Fingered()


def cents(upper: float, lower: float) -> float:
    return 1200 * math.log2(upper / lower)


def test_by_the_key_notes_have_the_key_s_own_ratios():
    played = fingered([62, 69], C, BY_KEY, NONE)
    # 9/8 to 5/3 is the narrow fifth of the just scale, 680.4 cents (Helmholtz tr. Ellis, app. XX: a comma under 3:2).
    assert cents(hz_of(69, C, played), hz_of(62, C, played)) == pytest.approx(680.449, abs=1e-3)


def test_following_the_chord_the_same_fifth_is_pure():
    played = fingered([62, 65, 69], C, "least", NONE)
    assert cents(hz_of(69, C, played), hz_of(62, C, played)) == pytest.approx(701.955, abs=0.01)


def test_notes_that_are_no_chord_stay_where_the_chord_put_them():
    chord = fingered([62, 65, 69], C, "tonic", NONE)
    passing = fingered([62, 69, 71], C, "tonic", chord)
    assert hz_of(69, C, passing) == hz_of(69, C, chord)
    assert hz_of(71, C, passing) == hz_of(71, C, NONE)
    assert passing.chord is chord.chord


@pytest.mark.parametrize("note", range(0, 128, 7))
def test_octaves_are_exact_everywhere(note):
    assert hz_of(min(note + 12, 127), C, NONE) == hz_of(min(note, 115), C, NONE) * 2


def test_equal_temperament_at_440_needs_no_offsets():
    # MIDI 1.0: note 69 is A4; ISO 16:1975: 440 Hz.
    assert offsets_of(Harmony(key_of("Eb", "major"), tuning="equal"), NONE) == pytest.approx([0.0] * 12, abs=1e-9)


@pytest.mark.parametrize("a4", [440.0, 442.0, 430.0])
@pytest.mark.parametrize("tonic", ["C", "Bb", "F#"])
def test_what_is_sent_is_what_sounds(a4, tonic):
    harmony = Harmony(key_of(tonic, "major"), a4=a4)
    scale = read_tuning(tuning_message(harmony, NONE, single=False)).scale
    singles = dict(read_tuning(tuning_message(harmony, NONE, single=True)).notes)
    for note in range(24, 108):
        sounds = 69 + 12 * math.log2(hz_of(note, harmony, NONE) / 440)
        assert 100 * (note - sounds) + scale[note % 12] == pytest.approx(0, abs=SCALE_STEP_CENTS / 2 + 1e-6)
        assert 100 * (singles[note] - sounds) == pytest.approx(0, abs=0.0031)


def test_a_reference_a_semitone_off_is_sent_as_single_notes():
    low = Harmony(key_of("C", "major"), a4=392.0)
    assert read_tuning(tuning_message(low, NONE, single=False)).notes
