"""Ways through tonics."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.errors import KeelnoteError
from firmware.music.keys import ALL_TONICS, key_of
from firmware.music.modes import MODES
from firmware.music.moving.long_tones import PATHS, tonics_of


@pytest.mark.parametrize(
    ("text", "key", "tonics"),
    [
        ("semitones", key_of("Bb"), "Bb B C Db D Eb E F Gb G Ab A"),
        ("fifths", key_of("F"), "F C G D A E B Gb Db Ab Eb Bb"),
        # The concert B♭ scale is every band's first.
        ("scale", key_of("Bb"), "Bb C D Eb F G A"),
        ("Bb F, C", key_of("G"), "Bb F C"),
    ],
)
def test_ways(text, key, tonics):
    assert " ".join(tonic.plain for tonic in tonics_of(text, key)) == tonics


@given(st.sampled_from(ALL_TONICS), st.sampled_from(MODES), st.sampled_from(sorted(PATHS)))
def test_every_way_begins_where_it_is_and_keeps_to_tonics_of_the_box(tonic, mode, path):
    tonics = tonics_of(path, key_of(tonic, mode))
    assert tonics[0].semitones == tonic.semitones
    assert set(tonics) <= set(ALL_TONICS)
    assert len({name.semitones for name in tonics}) == len(tonics)


@given(st.text(max_size=20))
def test_any_text_is_a_way_or_a_clear_error(text):
    try:
        tonics = tonics_of(text, key_of("C"))
    except KeelnoteError:
        return
    assert tonics
