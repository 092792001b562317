"""Chords as they are written."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import KeelnoteError
from firmware.music.keys import key_of
from firmware.music.moving.qualities import QUALITIES
from firmware.music.moving.symbols import chord_symbol

C = key_of("C", "major")
A_MINOR = key_of("A", "minor")


@pytest.mark.parametrize(
    ("text", "key", "root", "quality", "bass"),
    [
        ("I", C, 0, "major", 0),
        ("ii6", C, 2, "minor", 3),
        ("V7", C, 7, "dominant seventh", 0),
        ("V65", C, 7, "dominant seventh", 4),
        ("V42", C, 7, "dominant seventh", 10),
        ("I64", C, 0, "major", 7),
        ("I7", C, 0, "major seventh", 0),
        ("ii7", C, 2, "minor seventh", 0),
        ("Imaj7", C, 0, "major seventh", 0),
        ("vii°", C, 11, "diminished", 0),
        ("viio7", C, 11, "diminished seventh", 0),
        ("viiø7", C, 11, "half-diminished seventh", 0),
        ("bVII", C, 10, "major", 0),
        ("♭VI", C, 8, "major", 0),
        ("V/V", C, 2, "major", 0),
        ("V7/ii", C, 9, "dominant seventh", 0),
        ("III+", C, 4, "augmented", 0),
        ("i", A_MINOR, 0, "minor", 0),
        ("III", A_MINOR, 3, "major", 0),
        ("V7", A_MINOR, 7, "dominant seventh", 0),
        ("vii°7", A_MINOR, 11, "diminished seventh", 0),
        ("VII", A_MINOR, 10, "major", 0),
        ("B♭", C, 10, "major", 0),
        ("Ebm7", C, 3, "minor seventh", 0),
        ("F7/A", C, 5, "dominant seventh", 4),
        ("Cmaj7", C, 0, "major seventh", 0),
        ("Gsus4", C, 7, "suspended fourth", 0),
        ("F#ø7", C, 6, "half-diminished seventh", 0),
        ("Am6", C, 9, "minor added sixth", 0),
    ],
)
def test_what_is_written_is_read(text, key, root, quality, bass):
    chord = chord_symbol(text, key)
    assert (chord.root, chord.quality.name, chord.bass) == (root, quality, bass)


@pytest.mark.parametrize("text", ["", "VIII", "H", "V8", "C/F#", "ii/9", "vII", "Cfoo", "V7/V7", "iiimaj9", "i+7"])
def test_what_can_t_be_read_says_what_can(text):
    with pytest.raises(KeelnoteError) as caught:
        chord_symbol(text, C)
    assert "choose from" in caught.value.text


@given(st.text(alphabet="IViv°oø+b♭#♯0123456789/maMCDEFGABsuds ", max_size=9))
def test_any_text_is_a_chord_or_a_clear_error(text):
    try:
        chord = chord_symbol(text, A_MINOR)
    except KeelnoteError:
        return
    assert chord.quality in QUALITIES
    assert chord.bass in chord.quality.semitones


def test_roman_numerals_agree_with_music21():
    # Oracle: music21 (its RomanNumeral class), pitch classes of the whole chord and of its bass.
    roman = pytest.importorskip("music21.roman", reason="music21 is in the extra 'tests'")
    for mode, numerals in (
        ("major", "I ii iii IV V vi vii° I6 ii6 IV64 V7 V65 V43 V42 ii7 ii65 IVmaj7 bVII V/V V7/V V7/ii vii°7/V"),
        ("minor", "i ii° III iv V VI VII i6 iv6 V7 V65 VI6 iv7 V/V vii°7"),
    ):
        ours_key = key_of("D", mode)
        theirs_key = "D" if mode == "major" else "d"
        for text in numerals.split():
            ours = chord_symbol(text, ours_key)
            theirs = roman.RomanNumeral(text.replace("°", "o").replace("IVmaj7", "IV7"), theirs_key)
            pitches = {(2 + semitones) % 12 for semitones, _ in ours.members}
            assert pitches == set(theirs.pitchClasses), text
            assert (2 + ours.root + ours.bass) % 12 == theirs.bass().pitchClass, text


def test_a_slash_needs_a_plain_degree():
    with pytest.raises(KeelnoteError):
        chord_symbol("V7/ii°", C)
