"""Pitch against printed tables: just ratios, temperaments, the standard pitch and MIDI numbers."""

from __future__ import annotations

from itertools import pairwise

import pytest

from firmware.music.chords import chord_on
from firmware.music.harmony import Harmony, tones_of
from firmware.music.intervals import Interval
from firmware.music.keys import key_of
from firmware.music.modes import MODES
from firmware.music.notes import parse_note
from firmware.music.ratios import NAMED
from firmware.music.tunings import TUNINGS, tuning_named

# Whole cents as Ellis prints them in Helmholtz, "On the Sensations of Tone", appendix XX, section D, table of intervals
# not exceeding one octave. From memory; the book was not at hand.
ELLIS = {
    "1/1": 0,
    "16/15": 112,
    "10/9": 182,
    "9/8": 204,
    "6/5": 316,
    "5/4": 386,
    "4/3": 498,
    "7/5": 583,
    "45/32": 590,
    "64/45": 610,
    "10/7": 617,
    "3/2": 702,
    "25/16": 773,
    "8/5": 814,
    "5/3": 884,
    "27/16": 906,
    "128/75": 925,
    "7/4": 969,
    "16/9": 996,
    "9/5": 1018,
    "15/8": 1088,
}

# Cents to two places: Wikipedia, "List of intervals in 5-limit just intonation" (read for 16/15, 10/9 and 9/8; the
# rest from memory), and for the ratios with a 7 its "List of pitch intervals" (from memory).
TWO_PLACES = {
    "16/15": 111.73,
    "10/9": 182.40,
    "9/8": 203.91,
    "6/5": 315.64,
    "5/4": 386.31,
    "4/3": 498.04,
    "7/5": 582.51,
    "45/32": 590.22,
    "64/45": 609.78,
    "10/7": 617.49,
    "3/2": 701.96,
    "25/16": 772.63,
    "8/5": 813.69,
    "5/3": 884.36,
    "27/16": 905.87,
    "128/75": 925.42,
    "7/4": 968.83,
    "16/9": 996.09,
    "9/5": 1017.60,
    "15/8": 1088.27,
}


@pytest.mark.parametrize("text", NAMED)
def test_every_just_ratio_has_the_cents_of_ellis(text: str) -> None:
    assert round(Interval.of(text).cents) == ELLIS[text]


@pytest.mark.parametrize("text", TWO_PLACES)
def test_every_just_ratio_has_its_printed_cents_to_two_places(text: str) -> None:
    assert Interval.of(text).cents == pytest.approx(TWO_PLACES[text], abs=0.0051)


def test_modes_and_chords_use_no_ratio_outside_the_tables() -> None:
    used = {tone.interval for mode in MODES for tone in mode.tones}
    used |= {alternative.interval for mode in MODES for alternative in mode.alternatives}
    used |= {member.interval for mode in MODES for n in range(12) for member in chord_on(mode, n)}
    assert used == {Interval.of(text) for text in ELLIS}


def test_the_just_third_and_fifth_of_every_director() -> None:
    # Common practice, in every book for ensemble directors: play the major third of a chord 13.7 cents under equal
    # temperament, the minor third 15.6 over, the fifth 2 over.
    major = tones_of(Harmony(key_of("F"), shape="triad", octaves=1))
    minor = tones_of(Harmony(key_of("F", "minor"), shape="triad", octaves=1))
    assert [round(tone.cents_from_equal, 1) for tone in major] == [0.0, -13.7, 2.0]
    assert [round(tone.cents_from_equal, 1) for tone in minor] == [0.0, 15.6, 2.0]


# Cents above C. Werckmeister III: Tonalsoft Encyclopedia of Microtonal Music Theory, "Werckmeister" (read for C♯, F♯
# and G♯; the rest from memory). Kirnberger III: J. Monzo's dictionary of tuning terms gives D♭ 90.225 and the
# rule (read); the rest from memory. Vallotti and Young's second (1799, printed 1802): rule as in Wikipedia, "Young
# temperament" (read), cents from memory. Pythagorean and quarter-comma meantone: Barbour, "Tuning and Temperament",
# whole cents, from memory; E, G and the C major scale of meantone and Kirnberger read at teoria.com, "Cents".
PRINTED = {
    "werckmeister-3": (
        0,
        90.225,
        192.180,
        294.135,
        390.225,
        498.045,
        588.270,
        696.090,
        792.180,
        888.270,
        996.090,
        1092.18,
    ),
    "kirnberger-3": (
        0,
        90.225,
        193.157,
        294.135,
        386.314,
        498.045,
        590.224,
        696.578,
        792.18,
        889.735,
        996.09,
        1088.269,
    ),
    "vallotti": (0, 94.135, 196.090, 298.045, 392.180, 501.955, 592.180, 698.045, 796.090, 894.135, 1000.0, 1090.225),
    "young": (0, 90.225, 196.090, 294.135, 392.180, 498.045, 588.270, 698.045, 792.180, 894.135, 996.090, 1090.225),
}


@pytest.mark.parametrize("name", PRINTED)
def test_well_temperaments_have_their_printed_cents(name: str) -> None:
    found = [tuning_named(name).interval(key_of("C", "chromatic"), n).cents for n in range(12)]
    assert found == pytest.approx(PRINTED[name], abs=0.00051)


def test_werckmeister_in_hz() -> None:
    # Mechanical Music Digest, 23 February 2001, article 5, "Werckmeister temperament viewed by fifths", tenor octave
    # at A = 440 (read, all twelve).
    printed = {
        "C3": 131.7021,
        "C#3": 138.7479,
        "D3": 147.1644,
        "D#3": 156.0914,
        "E3": 165.0000,
        "F3": 175.6028,
        "F#3": 184.9972,
        "G3": 196.8850,
        "G#3": 208.1219,
        "A3": 220.0000,
        "A#3": 234.1371,
        "B3": 247.5000,
    }
    whole = Harmony(key_of("E"), tuning="werckmeister-3", shape="free", free=tuple(range(24)), octave=2, octaves=1)
    found = {tone.note.midi: tone.hz for tone in tones_of(whole)}
    for text, hz in printed.items():
        assert found[parse_note(text).midi] == pytest.approx(hz, abs=0.000051)


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("pythagorean", (0, 204, 408, 498, 702, 906, 1110)),
        ("just", (0, 204, 386, 498, 702, 884, 1088)),
        ("meantone", (0, 193, 386, 503, 697, 890, 1083)),
        ("kirnberger-3", (0, 193, 386, 498, 697, 890, 1088)),
        ("equal", (0, 200, 400, 500, 700, 900, 1100)),
    ],
)
def test_c_major_scales_in_whole_cents(name: str, printed: tuple[int, ...]) -> None:
    # teoria.com, article "Cents", page 9, "C major scales in different tunings" (read).
    key = key_of("C", "major")
    assert tuple(round(tuning_named(name).interval(key, n).cents) for n in key.mode.scale) == printed


def test_quarter_comma_meantone_in_whole_cents() -> None:
    # Wikipedia, "Interval (music)", column "quarter-comma meantone", intervals above the tonic; 579 for the augmented
    # fourth and 621 for the diminished fifth (read; it cuts the sixth, 889.74, to 889, where teoria.com has 890).
    meantone, major, locrian = tuning_named("meantone"), key_of("C", "major"), key_of("C", "locrian")
    found = [round(meantone.interval(major, n).cents) for n in range(12)]
    assert found == [0, 117, 193, 310, 386, 503, 579, 697, 814, 890, 1007, 1083]
    assert round(meantone.interval(locrian, 6).cents) == 621


@pytest.mark.parametrize("name", ["kirnberger-3", "werckmeister-3", "vallotti", "young"])
def test_fifths_and_thirds_of_the_circle(name: str) -> None:
    # The definitions themselves (see the files of the tunings): how many fifths are pure, how narrow the others are.
    steps = [tuning_named(name).interval(key_of("C", "chromatic"), 7 * n).cents for n in range(13)]
    narrow = [round(701.955 - (b - a), 2) for a, b in pairwise(steps)]
    expected = {
        "kirnberger-3": [5.38] * 4 + [0.0] * 2 + [1.95] + [0.0] * 5,
        "werckmeister-3": [5.87] * 3 + [0.0] * 2 + [5.87] + [0.0] * 6,
        "vallotti": [3.91] * 5 + [0.0] * 6 + [3.91],
        "young": [3.91] * 6 + [0.0] * 6,
    }
    wrapped = [gap + 1200 if gap < -600 else gap for gap in narrow]
    assert wrapped == pytest.approx(expected[name], abs=0.0051)


@pytest.mark.parametrize("tuning", TUNINGS, ids=lambda tuning: tuning.name)
def test_a4_is_440_hz(tuning: object) -> None:
    # ISO 16:1975, standard tuning frequency: A in the treble stave = 440 Hz. As tonic, A sounds it in every tuning.
    name = getattr(tuning, "name", "")
    tones = tones_of(Harmony(key_of("A"), tuning=name, octave=4, octaves=1))
    assert tones[0].hz == 440.0


# Frequencies of equal temperament at A4 = 440: as printed in any acoustics handbook, e.g. Rossing, "The Science of
# Sound", table of musical notes (from memory).
HANDBOOK = {
    "C0": 16.352,
    "A0": 27.500,
    "E2": 82.407,
    "Bb2": 116.541,
    "C4": 261.626,
    "C#4": 277.183,
    "Eb4": 311.127,
    "G4": 391.995,
    "A4": 440.0,
    "C8": 4186.009,
}


@pytest.mark.parametrize("text", HANDBOOK)
def test_equal_tempered_frequencies(text: str) -> None:
    assert parse_note(text).equal_hz() == pytest.approx(HANDBOOK[text], abs=0.00051)


@pytest.mark.parametrize(
    ("text", "number"),
    [("C4", 60), ("A4", 69), ("C-1", 0), ("G9", 127), ("A0", 21), ("C8", 108), ("B#3", 60), ("Cb4", 59), ("Bb2", 46)],
)
def test_note_numbers_of_midi(text: str, number: int) -> None:
    # MIDI 1.0 detailed specification, key numbers 0 to 127, middle C = 60; with middle C called C4 the piano's lowest
    # A0 is 21 and its highest C8 108. The letter carries the octave number, so B♯3 is middle C (common practice).
    assert parse_note(text).midi == number
