"""Onsets from the stream: where strokes were struck, with and without the box's own click in the microphone."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.heard_events import Onset
from firmware.hearing.onsets import AROUND, WAIT, Onsets, peaks
from firmware.units import RATE

LATE = 2112


def strokes(times: np.ndarray, seconds: float, generator: np.random.Generator) -> np.ndarray:
    sound = np.zeros(round(seconds * RATE))
    for number, at in enumerate(times):
        count = RATE // 4
        fall = np.exp(-np.arange(count) / RATE / generator.uniform(0.01, 0.06)) * generator.uniform(0.05, 0.3)
        hz = generator.uniform(200.0, 2500.0)
        body = generator.standard_normal(count) / 2 if number % 2 else np.cos(2 * np.pi * hz * np.arange(count) / RATE)
        sound[at : at + count] += body[: len(sound) - at] * fall[: len(sound) - at]
    return sound


def click_track(seconds: float, gap: float) -> np.ndarray:
    own = np.zeros(round(seconds * RATE))
    time = np.arange(1440) / RATE
    for number, at in enumerate(np.arange(0.25, seconds - 0.1, gap)):
        knock = np.sin(2 * np.pi * (1400.0 if number % 4 else 2100.0) * time) * np.exp(-time / 0.006)
        own[round(at * RATE) :][:1440] += 0.25 * knock
    return own


def hear(mic: np.ndarray, own: np.ndarray, block: int = 512) -> list[Onset]:
    onsets, found = Onsets(), []
    mic, own = mic.astype(np.float32), own.astype(np.float32)
    for at in range(0, len(mic), block):
        found += onsets.process(mic[at : at + block], own[at : at + block])
    return found


def errors_ms(truth: np.ndarray, found: list[Onset]) -> np.ndarray:
    """Of each true onset the distance to the nearest that was found, in ms."""
    at = np.array([onset.at for onset in found])
    return np.array([np.abs(at - true).min() for true in truth]) * 1000 / RATE


@pytest.fixture
def generator() -> np.random.Generator:
    """Chance with a seed."""
    return np.random.default_rng(11)


def test_strokes_are_found_to_half_a_millisecond(generator: np.random.Generator):
    truth = np.cumsum(generator.uniform(0.12, 0.5, 24) * RATE).astype(int)
    seconds = truth[-1] / RATE + 1.0
    mic = strokes(truth, seconds, generator) + 3e-4 * generator.standard_normal(round(seconds * RATE))
    found = hear(mic, np.zeros(len(mic)))
    assert len(found) == len(truth)
    errors = errors_ms(truth, found)
    assert np.median(errors) <= 0.5
    assert np.percentile(errors, 95) <= 2.0
    assert all(onset.late == 0 for onset in found)


def test_with_an_equally_loud_click_in_the_microphone_too(generator: np.random.Generator):
    own = click_track(16.0, 0.6)
    grid = 0.25 + 0.6 * np.arange(8, 25)
    truth = ((grid + generator.normal(0.0, 0.025, len(grid))) * RATE).astype(int) + LATE
    response = np.zeros(6000)
    response[LATE] = 1.0
    response[LATE + 200 :] = 0.02 * generator.standard_normal(6000 - LATE - 200) * np.exp(-np.arange(3688) / 1500)
    noise = 3e-4 * generator.standard_normal(len(own))
    mic = strokes(truth, 16.0, generator) + np.convolve(own, response)[: len(own)] + noise
    found = hear(mic, own)
    errors = errors_ms(truth, found)
    assert np.median(errors) <= 0.5
    assert np.percentile(errors, 95) <= 2.0
    assert len(found) <= len(truth) + 1
    assert np.median([onset.late for onset in found]) == pytest.approx(LATE, abs=4)


def test_blocks_do_not_matter(generator: np.random.Generator):
    truth = np.array([20_000, 60_000, 90_000])
    mic = strokes(truth, 3.0, generator)
    own = np.zeros(len(mic))
    assert hear(mic, own, 512) == hear(mic, own, 4800) == hear(mic, own, 333)


def test_the_level_is_that_of_the_attack():
    mic = np.zeros(3 * RATE)
    mic[RATE : RATE + 4800] = 0.5 * np.cos(2 * np.pi * 1000 * np.arange(4800) / RATE)
    (onset,) = [one for one in hear(mic, np.zeros(len(mic))) if one.at < RATE + 2400]
    assert onset.level_db == pytest.approx(-6.0, abs=0.5)


def test_silence_and_noise_have_no_onsets(generator: np.random.Generator):
    silence = np.zeros(2 * RATE)
    assert hear(silence, silence) == []
    assert hear(1e-3 * generator.standard_normal(4 * RATE), np.zeros(4 * RATE)) == []


def test_what_is_no_number_does_no_harm():
    mic = np.zeros(RATE, np.float32)
    mic[1000:1010] = np.nan
    mic[3000] = np.inf
    onsets = Onsets()
    onsets.process(mic, np.zeros(RATE, np.float32))
    mic = np.zeros(2 * RATE, np.float32)
    mic[RATE:] = np.cos(2 * np.pi * 1000 * np.arange(RATE) / RATE)
    found = onsets.process(mic, np.zeros(2 * RATE, np.float32))
    assert [one for one in found if abs(one.at - 2 * RATE) < 24]


def test_blocks_must_be_equally_long():
    with pytest.raises(ValueError, match="not of \\[3, 4\\]"):
        Onsets().process(np.zeros(3, np.float32), np.zeros(4, np.float32))


def test_peaks_stand_out():
    rises = np.full(AROUND + 40 + WAIT, 0.3)
    assert peaks(rises) == []
    rises[AROUND + 10] = 2.0
    rises[AROUND + 13] = 1.5
    assert peaks(rises) == [AROUND + 10]
