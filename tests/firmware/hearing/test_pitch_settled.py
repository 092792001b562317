"""A window is read evenly in noise, and by its middle where the tone itself changes."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.harmonic import Window
from firmware.hearing.pitch_settled import changes, settled
from firmware.hearing.pitch_spectrum import partials_of
from firmware.hearing.pitch_windows import Pitch

RATE = 12_000.0
LENGTH = 1_000


def tone(hz: float, noise: float = 0.0, *, swell: float = 0.0, cents: float = 0.0, seed: int = 1) -> np.ndarray:
    """A tone of 1/k partials that grows by `swell` and moves by `cents` over the window, as a wave of one turn."""
    rng = np.random.default_rng(seed)
    turn = np.sin(2 * np.pi * (np.arange(LENGTH) / LENGTH - 0.5))
    phase = 2 * np.pi * hz / RATE * np.cumsum(2 ** (cents * turn / 1200))
    partials = range(1, int(5_000 / hz) + 1)
    sound = sum(np.cos(k * phase + rng.uniform(0, 7)) * (1 + swell * turn) / k for k in partials)
    return np.asarray(sound + noise * rng.standard_normal(LENGTH))


def read(hz: float, length: int = LENGTH) -> Pitch:
    return Pitch(hz, 0.9, length, np.ones(partials_of(hz)), 1e-4)


def off(pitch: Pitch, hz: float) -> float:
    return float(abs(1200 * np.log2(pitch.hz / hz)))


def evenly(sound: np.ndarray, hz: float) -> float:
    return Window(sound).refine(2 * np.pi * hz / RATE, partials_of(hz), 4).omega * RATE / (2 * np.pi)


@pytest.mark.parametrize("hz", [52.0, 110.0, 440.0, 1200.0])
def test_noise_is_no_change_and_a_swell_is(hz: float):
    for seed in range(6):
        noisy, swelling = tone(hz, 0.15, seed=seed), tone(hz, 0.002, swell=0.3, seed=seed)
        for sound, expected in ((noisy, False), (swelling, True)):
            fit = Window(sound).refine(2 * np.pi * hz / RATE, partials_of(hz), 3)
            assert changes(fit, sound) is expected


@pytest.mark.parametrize("hz", [110.0, 440.0])
def test_noise_is_read_as_exactly_as_it_can_be(hz: float):
    for seed in range(6):
        sound = tone(hz, 0.15, seed=seed)
        pitch = settled(read(hz * 1.0005), sound, RATE)
        assert not pitch.moves
        assert pitch.hz == pytest.approx(evenly(sound, hz), rel=1e-6)
        assert off(pitch, hz) < 4 * 1731 * pitch.error


def test_what_a_tone_does_at_the_ends_of_a_window_hardly_counts():
    even, weighted = [], []
    for seed in range(6):
        sound = tone(311.0, 0.0, swell=0.4, cents=8.0, seed=seed)
        whole, inner = (settled(read(311.0, 500), one, RATE) for one in (sound, sound[15:-15]))
        assert whole.moves
        assert whole.length == LENGTH
        weighted.append(off(whole, inner.hz))
        even.append(off(read(evenly(sound, 311.0)), evenly(sound[15:-15], 311.0)))
    assert np.mean(weighted) < 0.5 * np.mean(even)


def test_a_tone_of_few_periods_is_read_evenly():
    sound = tone(45.0, 0.0, swell=0.3)
    assert not settled(read(45.0), sound, RATE).moves


def test_a_clear_tone_is_read_the_same_either_way():
    pitch = settled(read(440.1), tone(440.0, 1e-4), RATE)
    assert off(pitch, 440.0) < 0.005
