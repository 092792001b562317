"""The room check's sweeps: on their sample, twice the same, alone, and never loud."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, SweepSound, ToneSound
from firmware.sound.sweep import HIGH_HZ, LOUDEST_DB, LOW_HZ, REPEATS, SWEEP_SECONDS, Sweeper, sweep
from firmware.units import RATE, Samples, gain_of

PERIOD = round(SWEEP_SECONDS * RATE)


def test_it_is_the_sweep_that_scipy_makes() -> None:
    time = np.arange(PERIOD) / RATE
    other = signal.chirp(time, LOW_HZ, SWEEP_SECONDS, HIGH_HZ, method="logarithmic", phi=-90)
    inner = slice(round(0.05 * RATE), -round(0.01 * RATE))
    np.testing.assert_allclose(sweep()[inner], other[inner], atol=1e-5)


@settings(max_examples=20)
@given(st.integers(0, 3000), st.lists(st.integers(1, 4000), min_size=1, max_size=6))
def test_it_begins_on_its_sample_in_blocks_of_any_length(start: int, sizes: list[int]) -> None:
    wanted, sweeper, parts, at = SweepSound(on=True, start=start, level_db=-20.0), Sweeper(RATE), list[Samples](), 0
    for size in sizes:
        sound = sweeper.sound(wanted, at, size)
        parts.append(np.zeros(size, np.float32) if sound is None else sound)
        at += size
    whole = np.concatenate(parts)
    expected = np.concatenate([np.zeros(start, np.float32), *[sweep()] * REPEATS])[: len(whole)] * gain_of(-20.0)
    np.testing.assert_allclose(whole, expected, atol=1e-7)


def test_it_ends() -> None:
    wanted, sweeper = SweepSound(on=True, start=0, level_db=-20.0), Sweeper(RATE)
    assert sweeper.sound(wanted, REPEATS * PERIOD - 1, 10) is not None
    assert sweeper.sound(wanted, REPEATS * PERIOD, 10) is None
    assert sweeper.sound(SweepSound(), 10, 10) is None


def test_it_is_never_loud() -> None:
    sound = Sweeper(RATE).sound(SweepSound(on=True, start=0, level_db=40.0), 0, REPEATS * PERIOD)
    assert sound is not None
    assert np.abs(sound).max() <= gain_of(LOUDEST_DB) * 1.0001


@pytest.fixture(scope="module")
def played() -> tuple[Engine, Samples]:
    """A drone for a second, then the sweeps for four, then the drone for a second."""
    engine = Engine()
    drone = DroneSound(on=True, tones=(ToneSound(220.0),), timbre="plain")
    blank = np.zeros(500, np.float32)
    blocks = []
    for number in range(576):
        on = 96 <= number < 480
        engine.sound = Sound(drone, sweep=SweepSound(on=on, start=72_000))
        blocks.append(engine.process(blank))
    return engine, np.concatenate(blocks)


def test_everything_else_is_mute_while_it_sounds(played: tuple[Engine, Samples]) -> None:
    engine, sound = played
    begin = 72_000 + engine.latency
    assert np.abs(sound[: RATE // 2]).max() > 0.1
    assert np.abs(sound[RATE + 3000 : begin]).max() == 0.0
    expected = np.tile(sweep(), REPEATS) * np.float32(gain_of(-18.0))
    np.testing.assert_allclose(sound[begin : begin + len(expected)], expected, atol=1e-7)
    assert np.abs(sound[-RATE // 2 :]).max() > 0.1
