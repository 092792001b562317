"""The ear's streaming filters."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.filters import Decimator, Fir, whitener

RATE = 48_000


def slowed(hz: float) -> np.ndarray:
    sound = np.cos(2 * np.pi * hz * np.arange(RATE) / RATE)
    return Decimator(4).process(sound)[100:-100]


def test_the_band_passes_and_what_would_fold_into_it_does_not():
    for hz in (50.0, 1000.0, 4000.0):
        assert slowed(hz).std() == pytest.approx(np.sqrt(0.5), rel=0.01)
    for hz in (7000.0, 11_000.0, 20_000.0):
        assert 20 * np.log10(slowed(hz).std()) < -75


def test_blocks_of_any_length_make_the_same_stream():
    sound = np.random.default_rng(1).standard_normal(5000)
    whole = Decimator(4).process(sound)
    slow = Decimator(4)
    parts = [slow.process(sound[i : i + 7]) for i in range(0, 5000, 7)]
    assert np.allclose(np.concatenate(parts), whole)
    white = Fir(whitener())
    pieces = [white.process(sound[i : i + 33]) for i in range(0, 5000, 33)]
    assert np.allclose(np.concatenate([*pieces, white.process(np.zeros(0))]), Fir(whitener()).process(sound))


def test_the_whitener_rises_3_db_an_octave_and_blocks_dc():
    gain = np.abs(np.fft.rfft(whitener(), 12_000))
    assert gain[0] < 1e-9
    assert 20 * np.log10(gain[2000] / gain[500]) == pytest.approx(6.0, abs=0.7)
