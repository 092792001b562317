"""Which of a tone, its octave and its subharmonics is there."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.pitch_octaves import clearer, has_all, single, supported
from firmware.hearing.pitch_windows import Pitch

RATE = 12_000.0


def tone(hz: float, levels: dict[int, float], noise: float = 1e-3) -> np.ndarray:
    time = np.arange(1856) / RATE
    sound = sum(level * np.cos(2 * np.pi * number * hz * time + number) for number, level in levels.items())
    return np.asarray(sound + noise * np.random.default_rng(1).standard_normal(1856))


def heard(power: list[float], share: float = 0.98) -> Pitch:
    return Pitch(100.0, share, 928, np.array(power))


@pytest.mark.parametrize("part", [2, 3, 4, 6])
def test_a_subharmonic_is_raised_to_the_tone(part: int):
    sound = tone(220.0, {1: 1.0, 2: 0.7, 3: 0.5, 5: 0.3})
    omega = supported(sound, 2 * np.pi * 220 / part / RATE, RATE, None)
    assert omega * RATE / (2 * np.pi) == pytest.approx(220.0, rel=0.001)


def test_a_tone_with_weak_odd_partials_stays_what_it_is():
    sound = tone(220.0, {1: 0.2, 2: 1.0, 3: 0.2, 4: 0.8, 6: 0.5})
    assert supported(sound, 2 * np.pi * 220 / RATE, RATE, None) == pytest.approx(2 * np.pi * 220 / RATE)


def test_a_lower_pitch_is_believed_only_where_it_explains_nearly_all():
    half = heard([0.3, 0.3, 0.2, 0.2])
    octave = heard([0.6, 0.4], 0.6)
    assert clearer(half, octave)
    assert not clearer(heard([0.3, 0.3, 0.2, 0.2], 0.8), octave)
    assert not clearer(half, heard([0.6, 0.4], 0.97))
    assert not clearer(heard([0.001, 0.6, 0.001, 0.4]), octave)


def test_partials_that_tell():
    assert has_all(heard([1.0]))
    assert has_all(heard([0.5, 0.5, 0.2]))
    assert not has_all(heard([0.0, 1.0, 0.0, 1.0]))
    assert single(heard([0.1, 0.9]))
    assert not single(heard([0.0, 0.9, 0.1]))
    assert single(heard([0.0, 0.5, 0.3, 0.0, 0.2]))
    # FluidR3's baritone saxophone at F2 has nearly nothing of its first two partials
    reed = [0.0, 0.0004, 0.19, 0.06, 0.05, 0.02, 0.05, 0.02, 0.02, 0.02, 0.09, 0.01, 0.005, 0.02]
    assert single(heard(reed))
    for missing in (2, 6, 10, 12):
        assert not single(heard([0.0 if place == missing else share for place, share in enumerate(reed)]))
