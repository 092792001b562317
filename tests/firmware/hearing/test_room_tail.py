"""Octaves add up, decays are read, noise goes."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.room_tail import CENTRES_HZ, clean_octave, decay_line, octave_shape, smooth
from firmware.units import RATE


def test_octaves_add_up_to_the_whole() -> None:
    hz = np.linspace(0.0, 24_000.0, 5000)
    assert np.sum([octave_shape(hz, k) for k in range(len(CENTRES_HZ))], axis=0) == pytest.approx(1.0)


def test_the_decay_of_an_octave_is_read() -> None:
    count = RATE
    noise = np.random.default_rng(1).standard_normal((2, count))
    answer = noise[0] * 10 ** (-3.0 * np.arange(count) / RATE / 0.5)
    answer[:2000] = 0.0
    octave = clean_octave(answer + 1e-3 * noise[1], 1e-3 * noise[1][::-1], 5, 2000, RATE)
    assert octave.hz == 1000.0
    assert octave.rt60 == pytest.approx(0.5, rel=0.06)
    assert np.sum(octave.kept[-RATE // 4 :] ** 2) < 1e-3 * np.sum(octave.kept**2)


def test_noise_alone_has_no_decay_and_little_is_kept() -> None:
    noise = np.random.default_rng(2).standard_normal((2, RATE)) * 1e-3
    octave = clean_octave(noise[0], noise[1], 4, 2000, RATE)
    assert octave.rt60 is None
    assert np.sum(octave.kept**2) < 0.2 * 1e-6 * RATE / 24


def test_what_rises_is_no_decay() -> None:
    assert decay_line(np.exp(np.arange(10_000) / 1000), 1e-9, 0, RATE) is None
    assert decay_line(np.exp(-np.arange(10_000) / 1000), 1e-9, 0, RATE) is not None


def test_the_running_mean() -> None:
    assert smooth(np.arange(10.0), 3)[1:-1] == pytest.approx(np.arange(10.0)[1:-1])
