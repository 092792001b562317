"""Kinds of chord."""

from __future__ import annotations

import pytest

from firmware.music.chords import chord_on
from firmware.music.modes import MODES
from firmware.music.moving.qualities import BY_SEMITONES, BY_SIGN, QUALITIES


def test_no_sign_stands_for_two_kinds():
    assert len(BY_SIGN) == sum(len(quality.signs) for quality in QUALITIES)
    assert len(BY_SEMITONES) == len(QUALITIES)


@pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.name)
def test_a_chord_of_the_key_has_the_ratios_that_the_drone_gives_it(mode):
    seen = 0
    for degree in range(12):
        members = chord_on(mode, degree)
        quality = BY_SEMITONES.get(tuple(member.semitones for member in members))
        if quality is not None:
            seen += 1
            assert [interval for _, interval in quality.members] == [member.interval for member in members]
    assert seen >= 7


def test_a_just_triad_is_4_5_6():
    # Helmholtz, On the Sensations of Tone: the major triad is 4:5:6, the minor 10:12:15.
    assert [interval.fraction * 4 for _, interval in BY_SIGN[""].members] == [4, 5, 6]
    assert [interval.fraction * 10 for _, interval in BY_SIGN["m"].members] == [10, 12, 15]
