"""Which chord some notes are."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.music.moving.qualities import QUALITIES
from firmware.music.moving.recognise import recognised


@given(st.sampled_from(QUALITIES), st.integers(0, 11), st.data())
def test_any_position_of_a_chord_is_known_by_its_notes(quality, root, data):
    octaves = data.draw(st.lists(st.integers(0, 3), min_size=len(quality.members), max_size=len(quality.members)))
    notes = [root + n + 12 * octave for n, octave in zip(quality.semitones, octaves, strict=True)]
    chord = recognised(notes)
    assert chord is not None
    assert {n for n, _ in chord.members} == {note % 12 for note in notes}
    assert (chord.root + chord.bass) % 12 == min(notes) % 12


@pytest.mark.parametrize(
    ("notes", "root", "name"),
    [
        ((0, 4, 7, 9), 0, "added sixth"),
        ((9, 12, 16, 19), 9, "minor seventh"),
        ((4, 7, 12), 0, "major"),
        ((2, 5, 7, 11), 7, "dominant seventh"),
        ((0, 7), 0, "open fifth"),
    ],
)
def test_the_bass_decides_between_two_readings(notes, root, name):
    chord = recognised(notes)
    assert (chord.root, chord.quality.name) == (root, name)


@pytest.mark.parametrize("notes", [(), (0,), (0, 1), (0, 1, 2, 3)])
def test_what_is_no_chord_is_none(notes):
    assert recognised(notes) is None
