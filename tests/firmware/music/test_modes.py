"""Modes: their scales, labels, ratios and alternatives."""

from __future__ import annotations

from fractions import Fraction

import pytest

from firmware.errors import UnknownNameError
from firmware.music.modes import ALTERNATIVE_NAMES, MODES, Mode, mode_named
from firmware.music.notes import LETTER_SEMITONES
from firmware.music.ratios import SOURCE

DIATONIC = tuple(mode for mode in MODES if mode.name != "chromatic")
CHURCH = ("major", "dorian", "phrygian", "lydian", "mixolydian", "minor", "locrian")

every_mode = pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.name)
every_diatonic = pytest.mark.parametrize("mode", DIATONIC, ids=lambda mode: mode.name)


@every_mode
def test_twelve_tones_rise_by_semitones_and_by_pitch(mode: Mode) -> None:
    assert [tone.semitones for tone in mode.tones] == list(range(12))
    sizes = [tone.interval.cents for tone in mode.tones]
    assert sizes == sorted(sizes)
    assert mode.tones[0].interval.cents == 0
    assert len({tone.label for tone in mode.tones}) == 12


@every_mode
def test_every_tone_lies_near_its_semitone_and_names_its_source(mode: Mode) -> None:
    for tone in mode.tones:
        assert abs(tone.interval.cents - 100 * tone.semitones) < 32
        assert SOURCE in tone.source
        exact = tone.interval.fraction
        assert exact is not None
        assert f"{exact.numerator}:{exact.denominator}" in tone.source


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("major", "1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 16/9 15/8"),
        ("minor", "1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 9/5 15/8"),
        ("dorian", "1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 9/5 15/8"),
        ("phrygian", "1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 9/5 15/8"),
        ("lydian", "1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 16/9 15/8"),
        ("mixolydian", "1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 16/9 15/8"),
        ("locrian", "1 16/15 9/8 6/5 5/4 4/3 64/45 3/2 8/5 5/3 16/9 15/8"),
        ("harmonic-minor", "1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 9/5 15/8"),
        ("melodic-minor", "1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 9/5 15/8"),
        ("chromatic", "1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 16/9 15/8"),
    ],
)
def test_the_ratios_of_each_mode(name: str, expected: str) -> None:
    assert " ".join(str(tone.interval.fraction) for tone in mode_named(name).tones) == expected


@every_diatonic
def test_the_scale_has_each_degree_once_without_an_accidental(mode: Mode) -> None:
    assert [mode.tones[n].label for n in mode.scale] == list("1234567")
    assert [mode.tones[n].step for n in mode.scale] == list(range(7))


@every_diatonic
def test_a_label_with_a_sign_is_the_scale_degree_moved_by_a_semitone(mode: Mode) -> None:
    for tone in mode.tones:
        moved = {"♯": 1, "♭": -1}.get(tone.label[0], 0)
        assert tone.label[-1] == str(tone.step + 1)
        assert tone.semitones == mode.scale[tone.step] + moved


@pytest.mark.parametrize("name", CHURCH)
def test_the_seven_modes_are_rotations_of_the_major_scale(name: str) -> None:
    start = CHURCH.index(name)
    turned = tuple(sorted((n - LETTER_SEMITONES[start]) % 12 for n in LETTER_SEMITONES))
    assert mode_named(name).scale == turned


def test_what_the_labels_say_in_minor() -> None:
    minor = mode_named("minor")
    assert minor.tones[3].label == "3"
    assert minor.tones[11].label == "♯7"
    assert mode_named("chromatic").tones[3].label == "♭3"
    assert mode_named("chromatic").scale == tuple(range(12))
    assert mode_named("harmonic-minor").scale == (0, 2, 3, 5, 7, 8, 11)
    assert mode_named("melodic-minor").scale == (0, 2, 3, 5, 7, 9, 11)


@every_mode
def test_alternatives_include_what_the_mode_uses_and_lie_near_it(mode: Mode) -> None:
    for alternative in mode.alternatives:
        tone = mode.tones[alternative.semitones]
        assert abs(alternative.interval.cents - tone.interval.cents) < 50
        assert alternative.name in ALTERNATIVE_NAMES
    assert {mode.tones[n].interval for n in (2, 6, 9, 10)} <= {a.interval for a in mode.alternatives}


def test_the_choices_where_practice_differs() -> None:
    found = {a.name: a.interval.fraction for a in mode_named("mixolydian").alternatives}
    assert found["second-10/9"] == Fraction(10, 9)
    assert found["seventh-7/4"] == Fraction(7, 4)
    assert found["seventh-9/5"] == Fraction(9, 5)
    assert found["raised-fourth-7/5"] == Fraction(7, 5)
    assert "lowered-fifth-10/7" in {a.name for a in mode_named("locrian").alternatives}


@pytest.mark.parametrize(
    ("alias", "name"),
    [("ionian", "major"), ("aeolian", "minor"), ("Harmonic minor", "harmonic-minor"), (" Major ", "major")],
)
def test_aliases(alias: str, name: str) -> None:
    assert mode_named(alias) is mode_named(name)


def test_an_unknown_mode_is_named_with_all_there_are() -> None:
    with pytest.raises(UnknownNameError, match=r"mode 'majr'.*major.*chromatic.*Did you mean 'major'"):
        mode_named("majr")
