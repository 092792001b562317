"""Timbres: equal power, nothing too high, every one in the table."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.errors import UnknownNameError
from firmware.sound.timbre import PARTIALS, TOP_HZ, Timbre
from firmware.sound.timbres import TIMBRES, timbre_named

PITCHES = np.array([16.35, 58.27, 116.54, 440.0, 1046.5, 4186.0])


@pytest.mark.parametrize("timbre", TIMBRES, ids=lambda t: t.name)
def test_has_the_power_of_a_full_scale_sine_at_every_pitch(timbre: Timbre):
    assert np.sum(timbre.amplitudes(PITCHES, 48_000) ** 2, axis=1) == pytest.approx(np.ones(len(PITCHES)))


@pytest.mark.parametrize("timbre", TIMBRES, ids=lambda t: t.name)
@pytest.mark.parametrize("rate", [22_050, 44_100, 48_000, 96_000])
def test_sounds_nothing_above_18_khz_or_near_half_the_rate(timbre: Timbre, rate: int):
    amplitudes = timbre.amplitudes(PITCHES, rate)
    partial_hz = PITCHES[:, None] * np.arange(1, PARTIALS + 1)
    assert not amplitudes[partial_hz >= min(TOP_HZ, 0.45 * rate)].any()
    assert amplitudes.shape == (len(PITCHES), PARTIALS)


@pytest.mark.parametrize("timbre", TIMBRES, ids=lambda t: t.name)
def test_partials_near_the_top_fade_instead_of_dropping_out(timbre: Timbre):
    hz = np.geomspace(500.0, 4000.0, 4001)  # steps of 0.9 cents
    steps = np.abs(np.diff(timbre.amplitudes(hz, 48_000), axis=0))
    assert steps.max() < 0.01


def test_a_tone_above_the_top_is_silent():
    assert not timbre_named("reed").amplitudes(np.array([20_000.0]), 48_000).any()


@pytest.mark.parametrize("timbre", TIMBRES, ids=lambda t: t.name)
def test_has_at_most_sixteen_partials_and_is_found_by_name(timbre: Timbre):
    assert 1 <= len(timbre.levels_db) <= PARTIALS
    assert timbre_named(timbre.name) is timbre


def test_an_unknown_timbre_is_named_with_all_there_are():
    with pytest.raises(UnknownNameError, match=r"timbre 'reeds'.*plain, flue, reed, horn, bowed.*'reed'\?"):
        timbre_named("reeds")
