"""Hum is found, told apart from players and from the box's own sound."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.hum import Hum, HumWatch, find_hum
from firmware.units import RATE, gain_of
from hardware.simulated.room import pink_noise

SECONDS = 14
TIME = np.arange(SECONDS * RATE) / RATE
NOISE = pink_noise(1 << 20, -66.0, np.random.default_rng(1))[: len(TIME)].astype(np.float64)


def lines(hz: float, level_db: float, multiples: tuple[int, ...] = (1, 2, 3, 5)) -> np.ndarray:
    sound = np.sum([np.sin(2 * np.pi * hz * k * TIME + k) / k for k in multiples], axis=0)
    return sound * gain_of(level_db) / np.std(sound)


def watched(mic: np.ndarray, own: np.ndarray | None = None) -> Hum | None:
    watch = HumWatch()
    own = np.zeros(len(mic)) if own is None else own
    for start in range(0, len(mic), 30_000):
        watch.process(mic[start : start + 30_000], own[start : start + 30_000].astype(np.float32))
    return watch.hum


@pytest.mark.parametrize(("hz", "level"), [(50.0, -50.0), (60.0, -60.0), (50.12, -70.0), (59.9, -72.0)])
def test_hum_is_found_with_its_level(hz: float, level: float) -> None:
    hum = watched(NOISE + lines(hz, level))
    assert hum is not None
    assert hum.mains_hz == round(hz, -1)
    assert hum.hz == pytest.approx(hz, abs=0.05)
    assert hum.level_db == pytest.approx(level, abs=1.0)


def test_noise_and_low_notes_are_no_hum() -> None:
    assert watched(NOISE) is None
    for hz in (48.999, 51.913, 58.27, 61.735):  # G1, A♭1, B♭1, B1 (A4 = 440 Hz)
        assert watched(NOISE + lines(hz, -30.0, tuple(range(1, 10)))) is None


def test_what_the_box_plays_is_no_hum() -> None:
    own = lines(50.0, -20.0)
    assert watched(NOISE + 0.2 * own, own) is None
    assert watched(NOISE + 0.2 * own + lines(60.0, -60.0), own) is not None


def test_a_hum_that_came_and_went_is_forgotten() -> None:
    gone = np.where(TIME < 8.5, 1.0, 0.0)
    assert watched((NOISE + lines(50.0, -50.0)) * gone + NOISE * (1 - gone)) is None


def test_a_single_line_is_a_tone() -> None:
    assert find_hum((NOISE + lines(50.0, -40.0, (1,)))[::32][:6000], RATE / 32) is None


def test_what_is_no_number_counts_as_nothing() -> None:
    assert watched(np.full(RATE * 9, np.nan)) is None
