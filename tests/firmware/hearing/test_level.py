"""The level meter."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.hearing.level import LevelMeter

RATE = 48_000


def test_a_sine_has_its_peak_and_rms():
    # full-scale sine: peak 0 dB, RMS -3.01 dB (20 log10 of 1 over the root of 2)
    sine = 0.5 * np.sin(2 * np.pi * 1000 * np.arange(RATE) / RATE)
    events = LevelMeter().process(sine.astype(np.float32))
    assert [event.at for event in events] == [4800 * (index + 1) for index in range(10)]
    for event in events:
        assert event.peak_db == pytest.approx(-6.02, abs=0.01)
        assert event.rms_db == pytest.approx(-9.03, abs=0.01)
        assert not event.clipped


def test_touching_full_scale_is_marked_in_its_own_tenth_only():
    sound = np.zeros(3 * 4800, np.float32)
    sound[5000] = -1.0
    assert [event.clipped for event in LevelMeter().process(sound)] == [False, True, False]


def test_silence_has_a_floor_and_bad_numbers_are_marked():
    assert LevelMeter().process(np.zeros(4800, np.float32))[0].rms_db == -120
    bad = np.zeros(4800, np.float32)
    bad[7] = np.nan
    assert LevelMeter().process(bad)[0].clipped


@given(st.lists(st.integers(0, 7000), max_size=12))
def test_blocks_of_any_length_give_the_same_events(sizes: list[int]):
    sound = np.random.default_rng(1).uniform(-1, 1, sum(sizes)).astype(np.float32)
    whole = LevelMeter().process(sound)
    meter = LevelMeter()
    parts = []
    start = 0
    for size in sizes:
        parts.extend(meter.process(sound[start : start + size]))
        start += size
    assert [event.at for event in parts] == [event.at for event in whole]
    for one, other in zip(parts, whole, strict=True):
        assert one.peak_db == other.peak_db
        assert one.rms_db == pytest.approx(other.rms_db, abs=1e-9)
