"""Shift between two answers, and another clock."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.room_clock import on_other_clock, shift_between


def decaying(seed: int = 1) -> np.ndarray:
    noise = np.random.default_rng(seed).standard_normal(20_000) * np.exp(-np.arange(20_000) / 4000)
    spectrum = np.fft.rfft(noise)
    spectrum[int(0.8 * len(spectrum)) :] = 0.0
    return np.fft.irfft(spectrum)


def delayed(sound: np.ndarray, samples: float) -> np.ndarray:
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(len(sound)) * samples)
    return np.fft.irfft(np.fft.rfft(sound) * turn, len(sound))


@pytest.mark.parametrize("shift", [0.0, 0.3, -7.21, 40.5])
def test_a_shift_is_found_to_a_fraction_of_a_sample(shift: float) -> None:
    sound = decaying()
    noise = np.random.default_rng(2).standard_normal((2, len(sound))) * 0.01
    found, error = shift_between(sound + noise[0], delayed(sound, shift) + noise[1], 60.0)
    assert found == pytest.approx(shift, abs=0.01)
    assert error < 0.005


def test_the_error_that_it_states_is_the_one_it_makes() -> None:
    sound, generator = decaying(), np.random.default_rng(3)
    found = [
        shift_between(*(delayed(sound, d) + 0.3 * generator.standard_normal(len(sound)) for d in (0.0, 1.3)), 20.0)
        for _ in range(30)
    ]
    off = np.std([shift - 1.3 for shift, _ in found])
    assert 0.5 < off / np.mean([error for _, error in found]) < 2.0


def test_silence_has_no_shift() -> None:
    assert shift_between(np.zeros(100), np.zeros(100), 4.0)[1] == 0.0


@pytest.mark.parametrize("ppm", [0.0, 80.0, -300.0])
def test_another_clock_changes_nothing_but_time(ppm: float) -> None:
    time = np.arange(100_000) / 48_000
    for hz in (100.0, 3000.0, 15_000.0):
        there = np.sin(2 * np.pi * hz * time)
        wanted = np.sin(2 * np.pi * hz * time * (1 + ppm * 1e-6))
        inner = slice(100, -200)
        assert np.abs(on_other_clock(there, ppm) - wanted)[inner].max() < 1e-4
