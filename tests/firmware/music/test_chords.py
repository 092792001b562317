"""Chords on any degree, tuned from their own root."""

from __future__ import annotations

from fractions import Fraction

import pytest

from firmware.errors import UnknownNameError
from firmware.music.chords import SHAPES, Role, chord_on, shape_named
from firmware.music.intervals import Interval
from firmware.music.modes import MODES, Mode, mode_named
from firmware.music.ratios import NAMED

every_mode = pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.name)


def ratios(mode: str, degree: int, seventh: Interval | None = None) -> str:
    return " ".join(str(member.interval.fraction) for member in chord_on(mode_named(mode), degree, seventh))


@pytest.mark.parametrize(
    ("mode", "degree", "expected"),
    [
        ("major", 0, "1 5/4 3/2 15/8"),
        ("major", 2, "1 6/5 3/2 9/5"),
        ("major", 7, "1 5/4 3/2 16/9"),
        ("major", 11, "1 6/5 64/45 16/9"),
        ("major", 10, "1 5/4 3/2 16/9"),
        ("major", 6, "1 6/5 64/45 16/9"),
        ("minor", 0, "1 6/5 3/2 9/5"),
        ("minor", 11, "1 6/5 64/45 16/9"),
        ("minor", 10, "1 5/4 3/2 16/9"),
        ("harmonic-minor", 3, "1 5/4 25/16 15/8"),
        ("harmonic-minor", 11, "1 6/5 64/45 128/75"),
        ("chromatic", 0, "1 5/4 3/2 15/8"),
        ("chromatic", 3, "1 5/4 3/2 16/9"),
    ],
)
def test_chords_as_harmony_books_have_them(mode: str, degree: int, expected: str) -> None:
    assert ratios(mode, degree) == expected


@every_mode
def test_every_degree_carries_a_chord_of_known_ratios(mode: Mode) -> None:
    for degree in range(12):
        members = chord_on(mode, degree)
        assert [member.role for member in members] == list(Role)
        assert [m.semitones for m in members] == sorted(m.semitones for m in members)
        for member in members[1:]:
            assert str(member.interval.fraction) in NAMED
            assert abs(member.interval.cents - 100 * member.semitones) < 32


@every_mode
def test_chords_on_scale_degrees_stay_in_the_scale(mode: Mode) -> None:
    for degree in mode.scale:
        if mode.name != "chromatic":
            assert {(degree + m.semitones) % 12 for m in chord_on(mode, degree)} <= set(mode.scale)


@every_mode
def test_the_chord_on_the_tonic_is_made_of_the_modes_own_ratios(mode: Mode) -> None:
    for member in chord_on(mode, 0):
        assert member.interval == mode.tones[member.semitones].interval


def test_a_chosen_seventh_goes_over_major_thirds_only() -> None:
    harmonic = Interval.of("7/4")
    assert ratios("major", 7, harmonic) == "1 5/4 3/2 7/4"
    assert ratios("major", 2, harmonic) == "1 6/5 3/2 9/5"
    assert ratios("major", 0, harmonic) == "1 5/4 3/2 15/8"
    assert ratios("major", 11, harmonic) == "1 6/5 64/45 16/9"


def test_degrees_repeat_by_octaves() -> None:
    assert chord_on(mode_named("minor"), 19) == chord_on(mode_named("minor"), 7)


def test_the_dominant_seventh_meets_the_scale() -> None:
    mode = mode_named("major")
    top = mode.tones[7].interval * chord_on(mode, 7)[3].interval
    assert top.fraction == Fraction(4, 3) * 2


def test_shapes() -> None:
    assert [shape.name for shape in SHAPES] == ["unison", "octaves", "fifth", "triad", "seventh", "free"]
    assert shape_named("triad").roles == (Role.ROOT, Role.THIRD, Role.FIFTH)
    assert not shape_named("unison").repeats
    with pytest.raises(UnknownNameError, match=r"shape 'trad'.*unison.*free"):
        shape_named("trad")
