"""Clicks on their exact samples."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.sound.click import HIGH_HZ, LOW_HZ, Clicker, beat_start, click_of, first_beat
from firmware.sound.snapshot import PulseSound

RATE = 48_000


def sounded(pulse: PulseSound, count: int, block: int = 512, first: int = 0) -> np.ndarray:
    clicker = Clicker(RATE)
    parts = []
    for at in range(first, first + count, block):
        part = clicker.sound(pulse, 1.0, at, min(block, first + count - at))
        parts.append(np.zeros(min(block, first + count - at), np.float32) if part is None else part)
    return np.concatenate(parts)


@pytest.mark.parametrize("tempo", [20.0, 92.0, 97.3, 113.7, 300.0])
def test_no_drift_in_an_hour(tempo: float):
    """Every beat within half a sample of its exact time, in fractions."""
    pulse = PulseSound(on=True, start=1000, tempo=tempo)
    for beat in [*range(50), round(tempo * 60)]:
        exact = 1000 + Fraction(60 * RATE * beat) / Fraction(tempo)
        assert abs(beat_start(pulse, beat, RATE) - exact) <= Fraction(1, 2)


@settings(max_examples=50, deadline=None)
@given(st.floats(20, 300), st.integers(-(10**6), 10**9), st.integers(0, 10**10))
def test_the_first_beat_from_a_sample_on_is_found(tempo: float, start: int, position: int):
    pulse = PulseSound(on=True, start=start, tempo=tempo)
    beat = first_beat(pulse, position, RATE)
    assert beat_start(pulse, beat, RATE) >= position
    assert beat == 0 or beat_start(pulse, beat - 1, RATE) < position


@pytest.mark.parametrize("block", [1, 100, 512, 5000])
def test_each_click_begins_on_its_sample_with_beat_one_high(block: int):
    pulse = PulseSound(on=True, start=700, tempo=240.0, beats=3)
    samples = sounded(pulse, 50_000, block)
    expected = np.zeros(50_000, np.float32)
    for beat in range(5):
        at = 700 + 12_000 * beat
        click = click_of(HIGH_HZ if beat % 3 == 0 else LOW_HZ, RATE)[: 50_000 - at]
        expected[at : at + len(click)] += click
    assert np.array_equal(samples, expected)


def test_a_click_peaks_at_full_scale_and_ends_in_silence():
    for hz in (HIGH_HZ, LOW_HZ):
        click = click_of(hz, RATE)
        assert np.abs(click).max() == 1.0
        assert np.abs(click[-48:]).max() < 1e-4
        assert np.abs(click[0]) > 0.1


def test_the_first_beat_is_struck_at_once_when_it_has_just_passed_and_the_second_is_exact():
    samples = sounded(PulseSound(on=True, start=700, tempo=240.0), 20_000, first=1800)
    assert np.array_equal(samples[:1440], click_of(HIGH_HZ, RATE))
    assert np.flatnonzero(samples[1440:])[0] + 1440 == 12_700 - 1800


@pytest.mark.parametrize("first", [700 + 2401, 13_000])
def test_any_other_beat_that_has_passed_is_left_out(first: int):
    samples = sounded(PulseSound(on=True, start=700, tempo=240.0), 30_000, first=first)
    assert np.flatnonzero(samples)[0] == (12_700 if first < 12_700 else 24_700) - first


def test_a_change_of_tempo_on_the_way_doubles_no_beat():
    clicker = Clicker(RATE)
    clicker.sound(PulseSound(on=True, start=0, tempo=120.0), 1.0, 0, 1500)
    assert clicker.sound(PulseSound(on=True, start=10, tempo=121.0), 1.0, 1500, 20_000) is None


def test_a_click_that_began_rings_out_when_the_pulse_stops():
    clicker = Clicker(RATE)
    clicker.sound(PulseSound(on=True, start=500, tempo=120.0), 1.0, 0, 512)
    tail = clicker.sound(PulseSound(on=False), 1.0, 512, 2000)
    assert np.array_equal(tail[: 1440 - 12], click_of(HIGH_HZ, RATE)[12:])
    assert clicker.sound(PulseSound(on=False), 1.0, 2512, 512) is None


def test_a_new_tempo_begins_where_it_says():
    clicker = Clicker(RATE)
    clicker.sound(PulseSound(on=True, start=0, tempo=120.0), 1.0, 0, 24_000)
    part = clicker.sound(PulseSound(on=True, start=30_000, tempo=60.0), 0.5, 24_000, 24_000)
    assert np.flatnonzero(part)[0] == 6000
    assert np.abs(part).max() == pytest.approx(0.5)


@pytest.mark.parametrize("tempo", [0.0, -3.0, 1e9, math.nan, math.inf, 1e-9])
@pytest.mark.parametrize("beats", [0, -1, 1])
def test_no_tempo_breaks_it(tempo: float, beats: int):
    assert np.isfinite(sounded(PulseSound(on=True, start=-10, tempo=tempo, beats=beats), 20_000)).all()
