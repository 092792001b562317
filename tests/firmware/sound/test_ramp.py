"""Gains that move: exact ends, no kink, bounded however often they are aimed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.sound.ramp import Fader, Ramps

LENGTH = 1200


def gains(ramps: Ramps, position: int, count: int) -> np.ndarray:
    """Every gain over time, shape (n, count)."""
    one = np.ones((1, count), np.float32)
    return np.stack([ramps.mixed(one, np.array([number]), position) for number in range(len(ramps.target))])


def test_goes_from_one_value_to_the_other_and_stays():
    ramps = Ramps(np.array([0.0, 1.0, 0.25]))
    ramps.aim(np.array([1.0, 0.0, 0.25]), 100, LENGTH)
    assert ramps.moving(100).tolist() == [True, True, False]
    curve = gains(ramps, 100, LENGTH + 50)
    assert curve[:, 0] == pytest.approx([0.0, 1.0, 0.25], abs=1e-6)
    assert curve[:, -1] == pytest.approx([1.0, 0.0, 0.25], abs=1e-6)
    assert curve[0, LENGTH // 2] == pytest.approx(0.5, abs=1e-3)
    assert curve[0] + curve[1] == pytest.approx(np.ones(LENGTH + 50), abs=1e-6)
    assert not ramps.moving(100 + LENGTH).any()


def test_a_sum_over_groups_equals_the_sum_one_by_one():
    ramps = Ramps(np.zeros(4))
    ramps.aim(np.array([1.0, 0.5, 0.0, 0.0]), 0, LENGTH)
    ramps.aim(np.array([1.0, 0.2, 0.7, -0.3]), 300, LENGTH // 2)
    sounds = np.random.default_rng(5).standard_normal((4, 400)).astype(np.float32)
    expected = np.sum(gains(ramps, 350, 400) * sounds, axis=0)
    assert ramps.mixed(sounds, np.arange(4), 350) == pytest.approx(expected, abs=1e-5)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 700), st.floats(0, 1)), min_size=1, max_size=12))
def test_neither_kinks_nor_runs_away_when_aimed_again_on_the_way(aims: list[tuple[int, float]]):
    ramps, position, parts = Ramps(np.array([0.0])), 0, []
    for wait, target in aims:
        ramps.aim(np.array([target]), position, LENGTH)
        parts.append(gains(ramps, position, wait)[0].astype(np.float64))
        position += wait
    curve = np.concatenate([*parts, gains(ramps, position, LENGTH)[0]])
    assert curve.min() > -0.35  # a gain in motion overshoots a little rather than turn at once
    assert curve.max() < 1.35
    assert np.abs(np.diff(curve)).max(initial=0) < 4.0 / LENGTH
    assert np.abs(np.diff(curve, 3)).max(initial=0) < 3e-6  # float32 noise; a kink would show as 1e-3


def test_a_length_of_nothing_is_at_once():
    ramps = Ramps(np.array([0.0]))
    ramps.aim(np.array([1.0]), 7, 0)
    assert not ramps.moving(7).any()
    ramps.aim(np.array([0.0]), 7, 100)
    assert gains(ramps, 7, 1)[0, 0] == 1.0


def test_a_fader_multiplies_in_place_and_knows_when_it_is_shut():
    fader = Fader(1.0)
    samples = np.ones(100, np.float32)
    fader.apply(samples, 0)
    assert (samples == 1.0).all()
    fader.aim(0.0, 0, 50)
    assert fader.target == 0.0
    assert not fader.shut(49)
    assert fader.shut(50)
    fader.apply(samples, 0)
    assert samples[25] == pytest.approx(0.5)
    assert not samples[50:].any()
    samples[:] = 1.0
    fader.apply(samples, 60)
    assert not samples.any()
