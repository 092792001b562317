"""What a prediction of own sound leaves, and a pitch that rests on it."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.own_leak import HOPS, MOST, UNKNOWN, Leak, octave_of_own


def hop(level: float) -> np.ndarray:
    return np.full(480, level)


def test_nothing_is_believed_before_something_has_shown() -> None:
    leak = Leak()
    assert leak.share == UNKNOWN
    for _ in range(HOPS - 1):
        leak.add(hop(0.001), hop(0.1), fitted=False)
    assert leak.share >= UNKNOWN
    leak.add(hop(0.001), hop(0.1), fitted=False)
    assert leak.share == pytest.approx(1e-4)


def test_the_least_counts_and_is_worth_less_with_time() -> None:
    leak = Leak()
    for _ in range(HOPS):
        leak.add(hop(0.001), hop(0.1), fitted=False)
    for _ in range(50):  # two seconds of a player
        leak.add(hop(0.2), hop(0.1), fitted=False)
    assert 1e-4 < leak.share < 3e-4
    for _ in range(2_000):
        leak.add(hop(0.2), hop(0.1), fitted=False)
    assert leak.share == MOST


def test_fitted_lines_keep_what_has_shown_and_silence_forgets_slowly() -> None:
    leak = Leak()
    for _ in range(HOPS):
        leak.add(hop(0.001), hop(0.1), fitted=False)
    for _ in range(500):
        leak.add(hop(0.2), hop(0.1), fitted=True)
    assert leak.share == pytest.approx(1e-4)
    for _ in range(HOPS + 500):
        leak.add(hop(0.2), hop(0.0), fitted=False)
    assert 2e-4 < leak.share < 4e-4


def test_noise_where_nothing_was_predicted_is_nothing_that_is_left() -> None:
    generator, leak = np.random.default_rng(1), Leak()
    time = np.arange(HOPS * 480).reshape(HOPS, 480) / 12_000
    noise = 0.02 * generator.standard_normal((HOPS, 480))
    for made, other in zip(0.1 * np.sin(2 * np.pi * 400 * time), noise, strict=True):
        leak.add(0.05 * made + other, made, fitted=True)
    # The noise has a twelfth of the power of what was predicted, but a thousandth of it at 400 Hz.
    assert 0.05**2 / 2 < leak.share < 0.05**2 + 0.006


def test_a_root_that_is_left_of_own_sound_is_no_players() -> None:
    """A player an octave over a drone's root: at the odd partials there is what the prediction has left of the root."""
    played = np.array([0.01, 1.0, 0.02, 0.5, 0.01, 0.3])
    own = np.array([0.01, 0.01, 0.01, 0.01, 0.01, 0.01])
    assert octave_of_own(played, own)
    assert not octave_of_own(played[1::2], own[1::2])  # the player's own pitch
    assert not octave_of_own(played, own / 30)  # what is left is known to be less
    assert not octave_of_own(np.array([1.0, 0.5, 0.3, 0.2, 0.1, 0.1]), own)


def test_nor_is_a_twelfth_below() -> None:
    played = np.array([0.02, 0.01, 1.0, 0.01, 0.02, 0.5])
    assert octave_of_own(played, np.full(6, 0.02))
