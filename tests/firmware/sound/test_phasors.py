"""The matrix product against the definition: cosines, summed in float64."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.sound.phasors import CHUNK, PARTIALS, Stack, Tables, each, powers, start_phasors

RATE = 48_000
HZ = np.array([27.5, 116.5409, 349.62, 1318.5])


def by_definition(states: np.ndarray, count: int) -> np.ndarray:
    """Sum of the partials of each tone, shape (tones, count)."""
    cycles = HZ[:, None, None] * np.arange(1, PARTIALS + 1)[:, None] * np.arange(count) / RATE
    return np.sum((states[:, :, None] * np.exp(2j * np.pi * cycles)).real, axis=1)


@pytest.fixture
def states() -> np.ndarray:
    """Arbitrary complex amplitudes, of which a few are nothing."""
    rng = np.random.default_rng(3)
    values = rng.standard_normal((4, 16)) + 1j * rng.standard_normal((4, 16))
    values[1, 5:] = 0
    return values


@pytest.mark.parametrize("count", [1, 7, 31, 32, 33, 100, 511, CHUNK])
def test_sum_and_single_tones_are_exact_to_float32(states: np.ndarray, count: int):
    tables = Tables.of(HZ, RATE)
    expected = by_definition(states, count)
    scale = np.abs(expected).max()
    assert each(tables, states, count) == pytest.approx(expected, abs=3e-6 * scale)
    total = Stack.of(tables, states).sound(np.ones((4, 16), complex), count)
    assert total.dtype == np.float32
    assert total == pytest.approx(expected.sum(axis=0), abs=3e-6 * np.abs(states).sum() / 4)


def test_the_error_is_noise_far_below_hearing(states: np.ndarray):
    expected = by_definition(states, CHUNK).sum(axis=0)
    error = Stack.of(Tables.of(HZ, RATE), states).sound(np.ones((4, 16), complex), CHUNK) - expected
    assert 20 * np.log10(np.std(error) / np.std(expected)) < -120


def test_powers_by_doubling_stay_on_the_unit_circle():
    base = np.exp(2j * np.pi * np.array([0.123456789, 0.49]))
    assert powers(base, 512)[:, -1] == pytest.approx(base**512, abs=1e-11)


def test_start_phasors_drop_whole_cycles_before_they_multiply():
    whole = start_phasors(np.array([2.0**31 + 0.25]))
    assert whole[0, 0] == pytest.approx(1j, abs=1e-12)
    assert whole[0, 15] == pytest.approx(1.0, abs=1e-11)


def test_no_tones_make_no_tables():
    assert Tables.of(np.zeros(0), RATE).fine.shape == (0, 32, 32)
