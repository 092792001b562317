"""The definition of the onset, and the attack found by it in what else sounds."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.onsets_attack import attack_near, attack_of, largest_ahead, new_sound

RATE = 24_000


def tone(hz: float, seconds: float) -> np.ndarray:
    return np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)


def test_a_straight_rise_begins_at_a_third_of_what_follows_in_80_ms():
    """Worked by hand: t = (t + 80 ms) / 3, so 40 ms, however long the rise goes on."""
    rise = np.minimum(np.arange(RATE) / (0.2 * RATE), 1.0) * np.where(np.arange(RATE) % 2, 1.0, -1.0)
    note = np.concatenate([np.zeros(1000), rise])
    assert attack_of(note, RATE) == pytest.approx(1000 + 0.04 * RATE, abs=2)


def test_the_largest_ahead_is_that_of_each_window():
    values = np.random.default_rng(1).random(101)
    expected = [values[at : at + 7].max() for at in range(101)]
    np.testing.assert_array_equal(largest_ahead(values, 7), expected)


def test_a_stroke_begins_where_it_is_struck():
    stroke = np.concatenate([np.zeros(777), np.exp(-np.arange(2000) / 300) * np.where(np.arange(2000) % 2, 1, -1)])
    assert attack_of(stroke, RATE) == 777
    assert attack_near(stroke, 800, 100, RATE) == 777


def test_silence_has_no_attack():
    assert attack_of(np.zeros(1000), RATE) == 0


def test_of_two_strokes_the_near_one_is_found():
    sound = np.zeros(6000)
    sound[1000:1100] = 1.0
    sound[1600:1700] = 0.9
    assert attack_near(sound, 1010, 240, RATE) == 1000
    assert attack_near(sound, 1620, 240, RATE) == 1600


def test_a_slow_attack_is_found_after_its_rise_was_seen():
    sound = np.concatenate([np.zeros(1000), np.linspace(0, 1, 2400), np.ones(2000)])
    assert attack_near(sound, 1100, 240, RATE) == pytest.approx(1000 + 2399 / 3, abs=2)


def test_what_sounded_before_is_turned_down():
    old, new = tone(400, 0.4), tone(1700, 0.4)
    sound = old.copy()
    sound[4800:] += 0.5 * new[: len(sound) - 4800]
    left = new_sound(sound, 4800, 240)
    assert np.abs(left[2000:4400]).max() < 0.02
    assert np.abs(left[5000:7000]).max() == pytest.approx(0.5, abs=0.1)


def test_after_silence_nothing_is_filtered():
    sound = np.concatenate([np.zeros(4800), tone(500, 0.2)])
    assert new_sound(sound, 4800, 240) is sound
    assert new_sound(sound[4800 - 100 :], 100, 240) is not None
