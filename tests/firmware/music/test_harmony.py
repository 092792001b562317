"""A harmony worked out to the tones that sound."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.errors import KeelnoteError, OutOfRangeError, UnknownNameError
from firmware.music.chords import SHAPES
from firmware.music.harmony import Harmony, Tone, chord_intervals, intervals_of, tones_of
from firmware.music.keys import Key, key_of, knob_tonics
from firmware.music.modes import ALTERNATIVE_NAMES, MODES
from firmware.music.tunings import TUNINGS

B_FLAT = key_of("Bb", "major")
keys = st.sampled_from([Key(tonic, mode) for mode in MODES for tonic in knob_tonics(mode)])
harmonies = st.builds(
    Harmony,
    key=keys,
    tuning=st.sampled_from([tuning.name for tuning in TUNINGS]),
    a4=st.floats(380, 480),
    shape=st.sampled_from([shape.name for shape in SHAPES]),
    chord_degree=st.integers(0, 11),
    octave=st.integers(0, 7),
    octaves=st.integers(1, 5),
    free=st.lists(st.integers(0, 23), max_size=6).map(tuple),
    slope_db=st.floats(-6, 0),
    alternatives=st.lists(st.sampled_from(ALTERNATIVE_NAMES), max_size=3).map(tuple),
)


def names(tones: tuple[Tone, ...]) -> str:
    return " ".join(tone.note.text for tone in tones)


def fractions(tones: tuple[Tone, ...]) -> list[Fraction | None]:
    return [tone.interval.fraction for tone in tones]


def sounding(
    tonic: str,
    mode: str = "major",
    **more: Any,  # noqa: ANN401 - fields of Harmony have many types
) -> tuple[Tone, ...]:
    return tones_of(Harmony(key_of(tonic, mode), **more))


@settings(max_examples=60)
@given(harmonies)
def test_tones_rise_and_agree_with_themselves(harmony: Harmony) -> None:
    tones = tones_of(harmony)
    assert [tone.hz for tone in tones] == sorted({tone.hz for tone in tones})
    for tone in tones:
        assert abs(tone.cents_from_equal) < 45
        equal = tone.note.equal_hz(harmony.a4)
        assert 1200 * math.log2(tone.hz / equal) == pytest.approx(tone.cents_from_equal, abs=1e-8)
        assert tone.degree == harmony.key.label(tone.note.midi - harmony.tonic(0).midi)
        assert tone.note.name == harmony.key.spell(tone.note.midi - harmony.tonic(0).midi)
        base = harmony.hz_of(harmony.octave, tone.interval)
        assert tone.hz == base


@settings(max_examples=60)
@given(harmonies)
def test_a_shape_repeats_in_octaves_with_the_slope(harmony: Harmony) -> None:
    if harmony.shape in ("free", "unison"):
        return
    tones = tones_of(harmony)
    count = len(tones) // harmony.octaves
    assert len(tones) == count * harmony.octaves
    lowest = {tone.degree: tone for tone in reversed(tones)}
    for tone in tones:
        up = (tone.note.midi - lowest[tone.degree].note.midi) // 12
        assert tone.hz == lowest[tone.degree].hz * 2.0**up
        assert tone.level_db == pytest.approx(lowest[tone.degree].level_db + up * harmony.slope_db)


def test_the_default_is_two_octaves_of_the_tonic() -> None:
    tones = sounding("Bb")
    assert names(tones) == "B♭2 B♭3"
    assert [tone.level_db for tone in tones] == [0.0, -3.0]
    assert tones[0].note.midi == 46
    assert tones[1].hz == 2 * tones[0].hz


@pytest.mark.parametrize(
    ("shape", "expected", "degrees"),
    [
        ("unison", "B♭2", "1"),
        ("octaves", "B♭2 B♭3", "1 1"),
        ("fifth", "B♭2 F3 B♭3 F4", "1 5 1 5"),
        ("triad", "B♭2 D3 F3 B♭3 D4 F4", "1 3 5 1 3 5"),
        ("seventh", "B♭2 D3 F3 A3 B♭3 D4 F4 A4", "1 3 5 7 1 3 5 7"),
        ("free", "B♭2 B♭3", "1 1"),
    ],
)
def test_shapes(shape: str, expected: str, degrees: str) -> None:
    tones = sounding("Bb", shape=shape)
    assert names(tones) == expected
    assert " ".join(tone.degree for tone in tones) == degrees


@pytest.mark.parametrize(
    ("tonic", "mode", "expected"),
    [
        ("Db", "major", "D♭2 F2 A♭2"),
        ("C#", "minor", "C♯2 E2 G♯2"),
        ("Cb", "major", "C♭2 E♭2 G♭2"),
        ("F#", "major", "F♯2 A♯2 C♯3"),
        ("B", "locrian", "B2 D3 F3"),
        ("C#", "major", "C♯2 E♯2 G♯2"),
    ],
)
def test_the_spelling_follows_the_key(tonic: str, mode: str, expected: str) -> None:
    assert names(sounding(tonic, mode, shape="triad", octaves=1)) == expected


def test_a_just_triad_and_its_cents() -> None:
    tones = sounding("Bb", shape="triad", octaves=1)
    assert fractions(tones) == [Fraction(1), Fraction(5, 4), Fraction(3, 2)]
    assert [round(tone.cents_from_equal, 1) for tone in tones] == [0.0, -13.7, 2.0]
    assert [tone.level_db for tone in tones] == [0.0, -3.0, 0.0]


def test_member_levels() -> None:
    tones = sounding("C", shape="seventh", octaves=2, third_db=-5.0, fifth_db=1.0, seventh_db=-9.0, slope_db=-2.0)
    assert [tone.level_db for tone in tones] == [0.0, -5.0, 1.0, -9.0, -2.0, -7.0, -1.0, -11.0]


def test_chords_on_other_degrees_are_pure_from_their_root() -> None:
    second = sounding("C", shape="triad", chord_degree=2, octaves=1)
    assert names(second) == "D2 F2 A2"
    assert [tone.degree for tone in second] == ["2", "4", "6"]
    assert fractions(second) == [Fraction(9, 8), Fraction(27, 20), Fraction(27, 16)]
    fifth = sounding("C", "minor", shape="triad", chord_degree=7, octaves=1)
    assert names(fifth) == "G2 B♭2 D3"
    assert fractions(fifth) == [Fraction(3, 2), Fraction(9, 5), Fraction(9, 4)]


def test_only_just_tuning_moves_chords_to_their_root() -> None:
    for name in ("equal", "pythagorean", "meantone", "vallotti"):
        harmony = Harmony(key_of("C"), tuning=name, shape="triad", chord_degree=2, octaves=1)
        assert [tone.interval for tone in tones_of(harmony)] == list(intervals_of(harmony, 2, 5, 9))


def test_alternatives_change_the_tone_and_what_is_built_on_it() -> None:
    minor_tone = sounding("C", shape="triad", chord_degree=2, octaves=1, alternatives=("second-10/9",))
    assert fractions(minor_tone) == [Fraction(10, 9), Fraction(4, 3), Fraction(5, 3)]
    seventh = sounding("C", "mixolydian", shape="seventh", octaves=1, alternatives=("seventh-7/4",))
    assert fractions(seventh)[3] == Fraction(7, 4)
    dominant = sounding("C", shape="seventh", chord_degree=7, octaves=1, alternatives=("seventh-7/4",))
    assert fractions(dominant)[3] == Fraction(21, 8)
    both = sounding("C", shape="seventh", chord_degree=7, octaves=1, alternatives=("seventh-7/4", "seventh-9/5"))
    assert fractions(both)[3] == Fraction(27, 10)
    minor_seventh = sounding("C", "minor", shape="seventh", octaves=1, alternatives=("seventh-7/4",))
    assert fractions(minor_seventh)[3] == Fraction(7, 4)
    fourth = sounding("C", "lydian", shape="free", free=(6,), octaves=1, alternatives=("raised-fourth-7/5",))
    assert fractions(fourth) == [Fraction(7, 5)]


def test_of_two_alternatives_the_later_counts_and_foreign_ones_wait() -> None:
    harmony = Harmony(
        key_of("C"), alternatives=("seventh-7/4", "seventh-9/5", "lowered-fifth-10/7", "raised-fourth-7/5")
    )
    assert intervals_of(harmony, 10)[0].fraction == Fraction(9, 5)
    assert intervals_of(harmony, 6)[0].fraction == Fraction(7, 5)
    assert "9:5" in harmony.tuned_key().mode.tones[10].source
    locrian = Harmony(key_of("B", "locrian"), alternatives=harmony.alternatives)
    assert intervals_of(locrian, 6)[0].fraction == Fraction(10, 7)


def test_other_tunings_take_no_alternatives() -> None:
    plain = Harmony(key_of("C"), tuning="equal")
    chosen = Harmony(key_of("C"), tuning="equal", alternatives=("seventh-7/4",))
    assert intervals_of(plain, 10) == intervals_of(chosen, 10)


def test_free_degrees_count_from_the_tonic_over_two_octaves() -> None:
    tones = sounding("C", shape="free", free=(7, 0, 16, 7), octaves=1, chord_degree=5)
    assert names(tones) == "C2 G2 E3"
    assert [tone.level_db for tone in tones] == [0.0, 0.0, -6.0]
    assert fractions(tones) == [Fraction(1), Fraction(3, 2), Fraction(5, 2)]


def test_a_tone_that_comes_twice_sounds_once_at_its_lower_register_level() -> None:
    tones = sounding("C", shape="free", free=(0, 12), octaves=2, slope_db=-4.0)
    assert names(tones) == "C2 C3 C4"
    assert [tone.level_db for tone in tones] == [0.0, -4.0, -8.0]


@pytest.mark.parametrize("tuning", ["equal", "kirnberger-3", "werckmeister-3", "vallotti", "young"])
def test_tones_that_two_keys_share_are_the_same_to_the_bit(tuning: str) -> None:
    def by_midi(tonic: str, octave: int) -> dict[int, float]:
        harmony = Harmony(key_of(tonic, "chromatic"), tuning=tuning, shape="free", free=tuple(range(24)), octave=octave)
        return {tone.note.midi: tone.hz for tone in tones_of(harmony)}

    home = by_midi("Bb", 2)
    for tonic in ["Cb", "C", "C#", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "B"]:
        other = by_midi(tonic, 3)
        shared = home.keys() & other.keys()
        assert shared
        assert {midi: home[midi] for midi in shared} == {midi: other[midi] for midi in shared}


def test_a_change_of_chord_keeps_common_tones_to_the_bit() -> None:
    first = {tone.hz for tone in sounding("Bb", shape="triad")}
    fourth = {tone.hz for tone in sounding("Bb", shape="triad", chord_degree=5)}
    assert {tone.hz for tone in sounding("Bb", shape="octaves")} <= first
    assert len(first & fourth) == 1


def test_the_reference_moves_everything() -> None:
    low, high = sounding("Bb", shape="triad", a4=430.0), sounding("Bb", shape="triad", a4=445.0)
    for a, b in zip(low, high, strict=True):
        assert b.hz / a.hz == pytest.approx(445 / 430, rel=1e-14)
        assert a.cents_from_equal == pytest.approx(b.cents_from_equal, abs=1e-9)


@pytest.mark.parametrize(
    ("field", "value", "error", "words"),
    [
        ("tuning", "pure", UnknownNameError, "tuning 'pure'.*just"),
        ("shape", "cluster", UnknownNameError, "shape 'cluster'.*triad"),
        ("alternatives", ("third-7/6",), UnknownNameError, "alternative 'third-7/6'.*second-10/9"),
        ("a4", 379.9, OutOfRangeError, "reference.*380 to 480 Hz"),
        ("a4", math.nan, OutOfRangeError, "reference"),
        ("chord_degree", 12, OutOfRangeError, "chord degree"),
        ("octave", -1, OutOfRangeError, "octave"),
        ("octaves", 0, OutOfRangeError, "number of octaves"),
        ("free", (24,), OutOfRangeError, "free degree"),
        ("slope_db", math.inf, OutOfRangeError, "level"),
    ],
)
def test_values_outside_their_range_are_named(
    field: str, value: object, error: type[KeelnoteError], words: str
) -> None:
    given_values: dict[str, Any] = {field: value}
    with pytest.raises(error, match=words):
        Harmony(B_FLAT, **given_values)


def test_chord_intervals_say_role_and_place() -> None:
    found = chord_intervals(Harmony(key_of("C"), chord_degree=9))
    assert [semitones for _, semitones, _ in found] == [9, 12, 16, 19]
    assert [interval.fraction for _, _, interval in found] == [Fraction(5, 3), 2, Fraction(5, 2), 3]
