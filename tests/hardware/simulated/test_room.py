"""The simulated room has the reverberation time, delay and levels that were asked for."""

import numpy as np
import pytest
from scipy.signal import welch

from firmware.units import RATE
from hardware.simulated.room import pink_noise, response


def reverberation_time(late: np.ndarray) -> float:
    """T30 by backward integration (Schroeder 1965; ISO 3382-1 evaluates -5 to -35 dB); seconds for 60 dB."""
    energy = np.cumsum(late[::-1].astype(float) ** 2)[::-1]
    level = 10.0 * np.log10(energy / energy[0])
    inside = np.flatnonzero((level <= -5.0) & (level >= -35.0))
    slope, _ = np.polyfit(inside / RATE, level[inside], 1)
    return -60.0 / slope


@pytest.mark.parametrize("rt60", [0.3, 0.8, 1.6])
@pytest.mark.parametrize("seed", [1, 2])
def test_the_tail_falls_by_60_db_in_rt60(rt60: float, seed: int):
    found = response(rt60, 100, -3.0, np.random.default_rng(seed))
    assert reverberation_time(found[101:]) == pytest.approx(rt60, rel=0.1)


def test_the_direct_sound_is_exactly_where_it_belongs_and_nothing_comes_before():
    found = response(0.5, 777, -6.0, np.random.default_rng(3))
    assert found[777] == 1.0
    assert not found[:777].any()
    assert np.abs(found).argmax() == 777


@pytest.mark.parametrize("reverb_db", [-20.0, -3.0, 6.0])
def test_the_tail_has_the_energy_that_was_asked_for(reverb_db: float):
    found = response(0.6, 10, reverb_db, np.random.default_rng(4)).astype(float)
    assert 10 * np.log10(np.sum(found[11:] ** 2)) == pytest.approx(reverb_db, abs=0.1)


def test_a_room_without_echo_is_the_direct_sound_alone():
    assert response(0.0, 5, 0.0, np.random.default_rng(5)).tolist() == [0, 0, 0, 0, 0, 1]


@pytest.mark.parametrize("rt60", [1e-5, 0.001, 0.003])
def test_a_very_dry_room_is_still_a_room(rt60: float):
    found = response(rt60, 3, -3.0, np.random.default_rng(6))
    assert np.isfinite(found).all()
    assert found[3] == 1.0


def test_one_seed_makes_one_room():
    rooms = [response(0.4, 9, -3.0, np.random.default_rng(seed)) for seed in (7, 7, 8)]
    assert np.array_equal(rooms[0], rooms[1])
    assert not np.array_equal(rooms[0], rooms[2])


def test_noise_is_pink_and_has_its_level():
    noise = pink_noise(1 << 17, -60.0, np.random.default_rng(9))
    assert 20 * np.log10(np.sqrt(np.mean(noise.astype(float) ** 2))) == pytest.approx(-60.0, abs=0.01)
    # Pink noise loses 3.01 dB an octave (common definition); spectrum by scipy.signal.welch.
    hz, power = welch(noise, RATE, nperseg=4096)
    inside = (hz > 100) & (hz < 15_000)
    slope, _ = np.polyfit(np.log2(hz[inside]), 10 * np.log10(power[inside]), 1)
    assert slope == pytest.approx(-3.01, abs=0.15)
