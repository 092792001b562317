"""Fixtures for sound: how to run an engine, and how to measure what it made."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
from firmware.units import Samples


@pytest.fixture
def run() -> Callable[..., Samples]:
    """Run an engine for some samples in blocks of a size."""

    def go(engine: Engine, count: int, block: int = 512) -> Samples:
        parts = [engine.process(np.zeros(min(block, count - at), np.float32)) for at in range(0, count, block)]
        return np.concatenate(parts) if parts else np.zeros(0, np.float32)

    return go


@pytest.fixture
def holding() -> Callable[..., Sound]:
    """Make a snapshot of a drone that holds some frequencies."""

    def make(*hz: float, timbre: str = "plain", level_db: float = -6.0, fade_seconds: float = 0.08) -> Sound:
        tones = tuple(ToneSound(f) for f in hz)
        return Sound(
            drone=DroneSound(on=True, tones=tones, timbre=timbre, level_db=level_db, fade_seconds=fade_seconds)
        )

    return make


@pytest.fixture
def high_band() -> Callable[[np.ndarray, float], float]:
    """Measure the splash: highest level above a frequency in any 512-sample Hann window, in dB of a full-scale sine."""

    def measure(samples: np.ndarray, above_hz: float) -> float:
        window = np.hanning(512)
        frames = np.lib.stride_tricks.sliding_window_view(samples.astype(np.float64), 512)[::64]
        spectrum = np.abs(np.fft.rfft(frames * window, axis=1)) / (window.sum() / 2)
        bins = np.fft.rfftfreq(512, 1 / 48_000) > above_hz
        power = np.sum(spectrum[:, bins] ** 2, axis=1).max() / 1.5  # 1.5 bins: noise bandwidth of the Hann window
        return float(10 * np.log10(power + 1e-30))

    return measure
