"""Partials above the ear's band make a steady pitch more exact, and never worse."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.full_band import TAPS, FullBand, sharpened, whitened
from firmware.hearing.pitch_windows import Pitch

RATE = 48_000


def bright(hz: float, seed: int, noise: float = 0.05) -> np.ndarray:
    """A tone with partials up to 20 kHz in noise."""
    rng = np.random.default_rng(seed)
    time = np.arange(4096) / RATE
    partials = range(1, int(20_000 / hz) + 1)
    sound = sum(np.cos(2 * np.pi * number * hz * time + rng.uniform(0, 7)) / number for number in partials)
    return sound + noise * rng.standard_normal(4096)


def read(hz: float, error: float = 1e-5, *, moves: bool = False) -> Pitch:
    return Pitch(hz, 0.99, 928, np.ones(4), error, moves)


@pytest.mark.parametrize("hz", [880.0, 2093.0, 3900.0])
def test_it_becomes_more_exact(hz: float):
    for seed in range(5):
        begun = read(hz * (1 + 1.5e-5))
        better = sharpened(begun, bright(hz, seed), RATE)
        assert abs(better.hz / hz - 1) < 0.5 * abs(begun.hz / hz - 1)
        assert better.error < begun.error


def test_what_has_no_such_partials_or_moves_or_disagrees_is_left_as_it_is():
    sound = bright(880.0, 1)
    for pitch in (read(110.0), read(880.0, moves=True), read(885.0), read(880.0, 1e-9)):
        assert sharpened(pitch, sound, RATE) is pitch
    silent = read(880.0)
    assert sharpened(silent, np.zeros(4096), RATE) is silent


def test_the_newest_is_the_same_however_it_came():
    sound = np.random.default_rng(3).standard_normal(9_000)
    expected = whitened(sound)[-2_000:]
    for pieces, asked in ((1, ()), (9, ()), (9, (3, 4, 7)), (3, (0, 1, 2))):
        band = FullBand(2_000)
        for number, piece in enumerate(np.split(sound, pieces)):
            band.add(piece)
            if number in asked:
                band.newest(100)
        newest = band.newest(2_000)
        assert newest is not None
        assert newest == pytest.approx(expected, abs=1e-12)
        assert band.newest(500) == pytest.approx(expected[-500:], abs=1e-12)


def test_nothing_from_before_own_sound_is_given():
    band = FullBand(1_000)
    assert not band.there
    band.add(np.ones(1_500))
    assert band.there
    assert band.newest(1_000) is not None
    band.add(None)
    assert not band.there
    band.add(np.ones(1_000 + TAPS - 2))
    assert band.newest(1_000) is None
    band.add(np.ones(1))
    assert band.newest(1_000) is not None
