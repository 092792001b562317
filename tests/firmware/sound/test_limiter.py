"""The ceiling holds for any signal; below it nothing is touched."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.sound.limiter import HOLD_SECONDS, Limiter, running_minimum

RATE = 48_000
CEILING = 10 ** (-1 / 20)


def limited(samples: np.ndarray, cuts: list[int] | None = None) -> np.ndarray:
    limiter = Limiter(RATE)
    padded = np.concatenate([samples, np.zeros(limiter.delay)]).astype(np.float32)
    return np.concatenate([limiter.process(part) for part in np.split(padded, cuts or [])])[limiter.delay :]


def tone(hz: float, amplitude: float, count: int) -> np.ndarray:
    return (amplitude * np.sin(2 * np.pi * hz * np.arange(count) / RATE)).astype(np.float32)


def test_a_sound_below_the_ceiling_comes_out_bit_for_bit():
    samples = tone(440.0, 0.89, 10_000)
    assert np.array_equal(limited(samples, [1, 2, 513, 4000]), samples)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(-40, 80), st.lists(st.integers(0, 6000), max_size=6))
def test_nothing_passes_the_ceiling_and_blocks_do_not_matter(seed: int, level_db: float, cuts: list[int]):
    """Bursts of noise and single spikes of any size, in blocks of any size."""
    rng = np.random.default_rng(seed)
    samples = rng.standard_normal(6000) * (rng.random(6000) < rng.choice([0.001, 0.1, 1.0]))
    samples = (samples * np.repeat(rng.random(60), 100) * 10 ** (level_db / 20)).astype(np.float32)
    whole = limited(samples)
    assert np.abs(whole).max() <= CEILING
    assert limited(samples, sorted(cuts)) == pytest.approx(whole, abs=1e-6)


def test_a_steady_chord_that_is_too_loud_gets_one_gain_and_no_distortion():
    """Just triad on 116.54 Hz: its common period is 34 ms, within the hold."""
    chord = sum(tone(116.54 * ratio, 1.0, RATE) for ratio in (1.0, 1.25, 1.5))
    assert HOLD_SECONDS > 4 / 116.54
    ratio = limited(chord)[8000:40_000] / chord[8000:40_000]
    firm = np.abs(chord[8000:40_000]) > 0.1
    assert np.ptp(ratio[firm]) / ratio[firm].mean() < 1e-4  # peaks fall differently on the sample grid


def test_the_gain_comes_down_before_the_peak_without_a_step():
    samples = tone(1000.0, 0.5, 20_000)
    samples[10_000:] *= 4
    out = limited(samples)
    gain = out[9000:11_000:12] / samples[9000:11_000:12]
    gain = gain[np.isfinite(gain) & (np.abs(samples[9000:11_000:12]) > 0.1)]
    assert np.abs(np.diff(gain)).max() < 0.3  # over at most 0.5 ms; a hard clip would jump by 0.55
    assert gain[-1] == pytest.approx(CEILING / 2, abs=1e-3)


def test_it_is_transparent_again_after_the_release():
    samples = np.concatenate([tone(440.0, 20.0, 4800), tone(440.0, 0.5, 40_000)])
    out = limited(samples, list(range(512, 44_800, 512)))
    assert np.abs(out[5000:7000]).max() < 0.2
    assert np.array_equal(out[30_000:], samples[30_000:])


def test_silence_and_empty_blocks_pass():
    limiter = Limiter(RATE)
    assert limiter.process(np.zeros(0, np.float32)).shape == (0,)
    limiter.process(np.full(10, 5.0, np.float32))
    assert limiter.process(np.zeros(0, np.float32)).shape == (0,)


@pytest.mark.parametrize("span", [1, 2, 3, 7, 64, 100])
def test_running_minimum_against_its_definition(span: int):
    values = np.random.default_rng(span).standard_normal(300)
    expected = np.lib.stride_tricks.sliding_window_view(values, span).min(axis=1)
    assert np.array_equal(running_minimum(values, span), expected)
