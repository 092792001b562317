"""The rise of the spectrum: large where something begins, small where it goes on, trembles or may be own sound."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from firmware.hearing.onsets_rise import HOP, WINDOW, Rise, band_edges, band_power, widened

RATE = 24_000.0
NOTHING = np.zeros(WINDOW // 2 + 1)


def tone(hz: float, count: int, vibrato: float = 0.0) -> np.ndarray:
    time = np.arange(count) / RATE
    phase = 2 * np.pi * hz * time + vibrato * hz / 5.5 * (1 - np.cos(2 * np.pi * 5.5 * time))
    return 0.1 * np.sum([np.sin(number * phase) / number for number in range(1, 12)], axis=0)


def test_every_band_has_a_bin():
    edges = band_edges(RATE)
    assert all(later > earlier for earlier, later in pairwise(edges))
    power = np.zeros((1, WINDOW // 2 + 1))
    power[0, 40] = 7.0
    assert band_power(power, RATE).max() == 7.0
    assert band_power(power, RATE).shape == (1, len(edges) - 1)


def test_a_beginning_rises_at_its_place():
    sound = np.concatenate([np.zeros(12_800), tone(330.0, 12_800)])
    rises = Rise(RATE).process(sound, NOTHING)
    assert len(rises) == len(sound) // HOP
    top = int(rises.argmax())
    assert rises[top] > 3.0
    assert top * HOP - (WINDOW // 2 - HOP) == pytest.approx(12_800, abs=2.5 * HOP)
    assert rises[top + 12 :].max() < 0.1
    assert rises[: top - 12].max() == 0.0


def test_a_vibrato_is_no_rise():
    rises = Rise(RATE).process(tone(440.0, 48_000, vibrato=0.012), NOTHING)
    assert rises[20:].max() < 0.5


def test_blocks_do_not_matter():
    sound = np.random.default_rng(1).standard_normal(HOP * 40) * np.linspace(0, 1, HOP * 40)
    whole = Rise(RATE).process(sound, NOTHING)
    rise = Rise(RATE)
    parts = [rise.process(sound[at : at + 8 * HOP], NOTHING) for at in range(0, len(sound), 8 * HOP)]
    np.testing.assert_allclose(np.concatenate(parts), whole)


def test_what_may_be_own_sound_does_not_count():
    sound = np.concatenate([np.zeros(6400), tone(330.0, 6400)])
    loud = np.full(WINDOW // 2 + 1, 1e9)
    assert Rise(RATE).process(sound, loud).max() == 0.0


def test_neighbours_are_looked_at():
    assert widened(np.array([[0.0, 5.0, 0.0, 1.0]])).tolist() == [[5.0, 5.0, 5.0, 1.0]]
