"""Loudness: the reference tone, both gates, any block size, bounded memory."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.loudness import Loudness
from firmware.units import RATE, Samples


def tone(seconds: float, level_db: float, hz: float = 997.0) -> Samples:
    t = np.arange(round(seconds * RATE)) / RATE
    return (10 ** (level_db / 20) * np.sin(2 * np.pi * hz * t)).astype(np.float32)


def measured(*pieces: Samples, block: int = 512) -> float | None:
    meter = Loudness()
    whole = np.concatenate(pieces)
    for at in range(0, len(whole), block):
        meter.process(whole[at : at + block])
    return meter.integrated


def test_a_full_scale_sine_of_997_hz_is_minus_3_01() -> None:
    # ITU-R BS.1770-4, annex 1: "the value of LKFS ... will be -3.01" for a 0 dB FS, 997 Hz sine in one channel
    assert measured(tone(3.0, 0.0)) == pytest.approx(-3.01, abs=0.01)


def test_silence_before_and_after_does_not_count() -> None:
    # but for the blocks at the two edges, which hold a part of the tone
    silence = np.zeros(5 * RATE, np.float32)
    assert measured(silence, tone(20.0, -20.0), silence) == pytest.approx(-23.01, abs=0.1)


def test_what_is_far_below_the_rest_does_not_count() -> None:
    # -42 is 19 below the loud third: without the relative gate it would pull the result down by 4.7 units
    assert measured(tone(10.0, -23.0), tone(20.0, -42.0)) == pytest.approx(-26.0, abs=0.1)


def test_what_is_a_little_below_the_rest_counts() -> None:
    assert measured(tone(10.0, -23.0), tone(10.0, -29.0)) == pytest.approx(-26.0 - 2.04, abs=0.1)


@pytest.mark.parametrize("block", [1, 37, 4800, 100_000])
def test_the_blocks_make_no_difference(block: int) -> None:
    sound = np.concatenate([tone(0.4, -12.0), tone(0.5, -30.0, 200.0)])
    assert measured(sound, block=block) == pytest.approx(measured(sound), abs=1e-9)


def test_nothing_to_measure_is_none_and_rubbish_is_silence() -> None:
    assert Loudness().integrated is None
    assert measured(tone(0.3, 0.0)) is None
    assert measured(np.full(RATE, np.nan, np.float32)) is None
    assert measured(tone(1.0, -80.0)) is None


def test_the_peak_is_that_of_the_samples() -> None:
    meter = Loudness()
    meter.process(np.array([0.1, -0.7, 0.3], np.float32))
    meter.process(np.array([], np.float32))
    assert meter.peak == pytest.approx(0.7)
