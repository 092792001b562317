"""What is heard gets a name, cents from its target, and beats against the drone."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.music.harmony import Harmony, Tone, tones_of
from firmware.music.keys import Key, key_of, knob_tonics
from firmware.music.modes import MODES
from firmware.music.naming import beats, name_pitch, targets_of
from firmware.music.tunings import TUNINGS
from firmware.units import ratio_of

keys = st.sampled_from([Key(tonic, mode) for mode in MODES for tonic in knob_tonics(mode)])
harmonies = st.builds(
    Harmony,
    key=keys,
    tuning=st.sampled_from([tuning.name for tuning in TUNINGS]),
    a4=st.floats(380, 480),
    shape=st.sampled_from(["octaves", "triad", "seventh", "free"]),
    chord_degree=st.integers(0, 11),
)
TRIAD = Harmony(key_of("Bb"), shape="triad")


@settings(max_examples=60)
@given(harmonies, st.integers(0, 11), st.integers(0, 8))
def test_every_target_names_itself_without_error(harmony: Harmony, semitones: int, octave: int) -> None:
    hz = harmony.hz_of(octave, targets_of(harmony)[semitones])
    named = name_pitch(hz, harmony)
    assert named.semitones == semitones
    assert named.cents == pytest.approx(0, abs=1e-8)
    assert named.target_hz == pytest.approx(hz, rel=1e-13)
    assert named.degree == harmony.key.label(semitones)
    assert named.note.name == harmony.key.spell(semitones)
    assert named.note.midi == harmony.tonic(octave).midi + semitones


@settings(max_examples=60)
@given(harmonies)
def test_every_sounding_tone_is_its_own_target(harmony: Harmony) -> None:
    for tone in tones_of(harmony):
        named = name_pitch(tone.hz, harmony)
        assert (named.note, named.degree) == (tone.note, tone.degree)
        assert named.cents == pytest.approx(0, abs=1e-8)
        assert beats(tone.hz, tones_of(harmony), tone.degree) == pytest.approx(0, abs=1e-9)


@settings(max_examples=100)
@given(harmonies, st.floats(20, 8000))
def test_the_name_and_the_cents_give_the_pitch_back(harmony: Harmony, hz: float) -> None:
    named = name_pitch(hz, harmony)
    assert named.target_hz * ratio_of(named.cents) == pytest.approx(hz, rel=1e-12)
    assert abs(named.cents) < 80
    assert abs(1200 * math.log2(named.target_hz / named.note.equal_hz(harmony.a4))) < 45


@settings(max_examples=60)
@given(harmonies, st.floats(20, 8000))
def test_no_other_target_is_nearer(harmony: Harmony, hz: float) -> None:
    named = name_pitch(hz, harmony)
    for target in targets_of(harmony):
        away = math.remainder(1200 * math.log2(hz / harmony.hz_of(4, target)), 1200)
        assert abs(named.cents) <= abs(away) + 1e-9


def test_a_sharp_third() -> None:
    third = tones_of(TRIAD)[1].hz
    named = name_pitch(third * 2 * ratio_of(12), TRIAD)
    assert (named.note.text, named.degree) == ("D4", "3")
    assert named.cents == pytest.approx(12, abs=1e-9)


def test_the_octave_number_changes_at_the_letter_c() -> None:
    harmony = Harmony(key_of("Cb"))
    named = name_pitch(440 * 2 ** (-10 / 12) * ratio_of(-20), harmony)
    assert named.note.text == "C♭4"
    assert named.cents == pytest.approx(-20, abs=1e-9)


def test_just_below_the_tonic_is_the_tonic_flat() -> None:
    named = name_pitch(tones_of(TRIAD)[0].hz * ratio_of(-30), TRIAD)
    assert (named.note.text, named.degree) == ("B♭2", "1")
    assert named.cents == pytest.approx(-30, abs=1e-9)


def test_a_sounding_chord_sets_its_own_targets() -> None:
    second = Harmony(key_of("C"), shape="triad", chord_degree=2)
    plain = Harmony(key_of("C"))
    sixth = next(tone for tone in tones_of(second) if tone.degree == "6")
    assert name_pitch(sixth.hz, second).cents == pytest.approx(0, abs=1e-9)
    assert name_pitch(sixth.hz, plain).cents == pytest.approx(21.506, abs=1e-3)


def test_free_degrees_are_named_from_the_tonic_whatever_the_chord() -> None:
    free = Harmony(key_of("C"), shape="free", chord_degree=2, free=(9,))
    assert targets_of(free) == targets_of(Harmony(key_of("C")))


@pytest.mark.parametrize("hz", [0.0, -1.0, math.nan, math.inf])
def test_what_is_no_frequency_is_refused(hz: float) -> None:
    with pytest.raises(OutOfRangeError, match="frequency"):
        name_pitch(hz, TRIAD)
    with pytest.raises(OutOfRangeError, match="frequency"):
        beats(hz, tones_of(TRIAD))


def rungs() -> tuple[Tone, ...]:
    return tones_of(Harmony(key_of("A"), shape="fifth", octave=2, octaves=2))


@pytest.mark.parametrize(
    ("hz", "expected"),
    [
        (221.0, 1.0),  # against A3 = 220
        (111.0, 1.0),  # against A2 = 110
        (442.0, 2.0),  # an octave over A3: its second partial, 440
        (884.0, 4.0),  # two octaves over: its fourth, 880
        (56.0, 2.0),  # an octave under A2: the player's second partial, 112
        (28.0, 2.0),  # two octaves under: the player's fourth, 112
        (166.0, 1.0),  # against the fifth, 165
        (660.0, 0.0),  # an octave over E4 = 330
    ],
)
def test_beats_of_the_lowest_partials_that_meet(hz: float, expected: float) -> None:
    assert beats(hz, rungs()) == pytest.approx(expected, abs=1e-9)


def test_no_beats_without_a_rung_of_the_degree() -> None:
    assert beats(138.0, rungs()) is None
    assert beats(220.0, rungs(), "3") is None
    assert beats(220.0, ()) is None
    assert beats(227.0, rungs()) is None  # 54 cents off is no longer the same degree
    assert beats(227.0, rungs(), "1") == pytest.approx(7.0)


@settings(max_examples=60)
@given(st.floats(30, 4000), st.sampled_from(["1", "5"]))
def test_beats_are_the_distance_of_two_partials(hz: float, degree: str) -> None:
    found = beats(hz, rungs(), degree)
    choices = [abs(m * hz - n * tone.hz) for tone in rungs() for m in (1, 2, 4, 8) for n in (1, 2, 4, 8, 16, 32)]
    assert found is not None
    assert min(abs(found - choice) for choice in choices) < 1e-6
