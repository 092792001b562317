"""A steady pitch is read in the longest window, one that moves with its movement, and noise changes neither."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.pitch_spectrum import Spectrum
from firmware.hearing.pitch_windows import LENGTHS, Pitch, Stretch, agree, read_near

RATE = 12_000.0


def stretch(sound: np.ndarray) -> Stretch:
    return Stretch(sound, Spectrum(sound, RATE), RATE, LENGTHS)


def tone(hz: float, cents: np.ndarray, noise: float, seed: int = 1) -> np.ndarray:
    phase = 2 * np.pi * hz / RATE * np.cumsum(2 ** (cents / 1200))
    sound = sum(np.cos(number * phase + number) / number for number in range(1, int(5000 / hz) + 1))
    return np.asarray(sound + noise * np.random.default_rng(seed).standard_normal(len(cents)))


@pytest.mark.parametrize("noise", [0.001, 0.1, 0.6])
def test_a_steady_tone_gets_the_longest_window_whatever_the_noise(noise: float):
    lengths = []
    for seed in range(8):
        near = stretch(tone(311.0, np.zeros(1856), noise, seed))
        pitch = read_near(near, near.omega(311.2))
        assert pitch is not None
        assert not pitch.moves
        assert abs(1731 * (pitch.hz / 311.0 - 1)) < 5 * 1731 * pitch.error + 0.02
        lengths.append(pitch.length)
    assert np.median(lengths) == LENGTHS[-1]


@pytest.mark.parametrize("hz", [233.0, 466.0, 1865.0])
def test_a_vibrato_is_read_where_it_is_at_the_centre(hz: float):
    for turn in np.linspace(0, 2 * np.pi, 8, endpoint=False):
        time = np.arange(1856) / RATE
        cents = 20 * np.sin(2 * np.pi * 5.5 * time + turn)
        near = stretch(tone(hz, cents, 0.001))
        pitch = read_near(near, near.omega(hz))
        assert pitch is not None
        assert pitch.length < LENGTHS[-1]
        centre = cents[-pitch.length // 2]
        assert 1200 * np.log2(pitch.hz / hz) == pytest.approx(centre, abs=1.0)


def test_readings_agree_within_their_noise():
    one = Pitch(440.0, 0.9, 928, np.ones(3), 1e-3)
    assert agree(one, Pitch(441.0, 0.9, 928, np.ones(3), 1e-3))
    assert not agree(one, Pitch(444.0, 0.9, 928, np.ones(3), 1e-3))
    assert not agree(Pitch(440.0, 1.0, 928, np.ones(3), 0.0), Pitch(440.1, 1.0, 928, np.ones(3), 0.0))


def test_silence_and_too_few_periods_are_no_pitch():
    silent = stretch(np.zeros(1856))
    assert read_near(silent, silent.omega(440.0)) is None
    low = stretch(tone(15.0, np.zeros(1856), 0.0))
    assert read_near(low, low.omega(15.0)) is None
