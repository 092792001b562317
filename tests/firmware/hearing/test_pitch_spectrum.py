"""Candidates for a fundamental."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.pitch_spectrum import Spectrum, candidates_of, partials_of

RATE = 12_000.0


def tone(hz: float, count: int, numbers: range) -> np.ndarray:
    time = np.arange(count) / RATE
    return np.asarray(sum(np.cos(2 * np.pi * number * hz * time + number**2) for number in numbers))


@pytest.mark.parametrize("hz", [41.2, 58.27, 233.08, 1046.5, 4186.0])
def test_the_fundamental_is_among_the_candidates(hz: float):
    found = candidates_of(Spectrum(tone(hz, 1856, range(1, partials_of(hz) + 1)), RATE))
    assert np.abs(1200 * np.log2(found / hz)).min() < 25


@pytest.mark.parametrize("hz", [41.2, 57.2, 98.0, 130.8])
def test_three_periods_are_enough_for_the_autocorrelation(hz: float):
    found = Spectrum(tone(hz, 928, range(1, 20)), RATE).repeats()
    assert found is not None
    assert 1200 * np.log2(found / hz) == pytest.approx(0, abs=40)


def test_nothing_repeats_in_silence_and_no_candidates_come_of_it():
    silent = Spectrum(np.zeros(928), RATE)
    assert silent.repeats() is None
    assert not len(candidates_of(silent))


def test_the_share_of_a_band_is_that_of_its_energy():
    low, high = tone(500.0, 1856, range(1, 2)), tone(4000.0, 1856, range(1, 2))
    assert Spectrum(low + 2 * high, RATE).band_share(2000.0) == pytest.approx(0.2, abs=0.01)
