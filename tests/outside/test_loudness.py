"""Loudness against pyloudnorm, which implements ITU-R BS.1770-4 on its own, on sounds that try both gates."""

from __future__ import annotations

import numpy as np
import pyloudnorm
import pytest

from firmware.hearing.loudness import Loudness
from firmware.units import RATE, Samples

TOLERANCE_LU = 0.1


def noise(seconds: float, level_db: float, seed: int) -> Samples:
    sound = np.random.default_rng(seed).standard_normal(round(seconds * RATE))
    return (10 ** (level_db / 20) * sound).astype(np.float32)


def chord(seconds: float, level_db: float, *pitches: float) -> Samples:
    t = np.arange(round(seconds * RATE)) / RATE
    sound = sum(np.sin(2 * np.pi * hz * part * t) / part for hz in pitches for part in range(1, 9))
    return (10 ** (level_db / 20) * np.asarray(sound) * np.minimum(1.0, 8 * t)).astype(np.float32)


def tuba(level_db: float) -> Samples:
    return chord(6.0, level_db, 58.27)


def music(seed: int) -> Samples:
    """Chords and noises of random levels and lengths, with rests between."""
    rng = np.random.default_rng(seed)
    pieces: list[Samples] = []
    for _ in range(12):
        length, level = rng.uniform(0.2, 2.5), rng.uniform(-60.0, -12.0)
        root = 55.0 * 2 ** rng.uniform(0.0, 4.0)
        pieces.append(chord(length, level, root, 1.25 * root, 1.5 * root))
        pieces.append(noise(rng.uniform(0.1, 1.5), rng.uniform(-90.0, -40.0), int(rng.integers(1000))))
    return np.concatenate(pieces)


SOUNDS = {
    "noise": noise(5.0, -20.0, 1),
    "low note": tuba(-26.0),
    "high note": chord(4.0, -30.0, 3520.0),
    "rest in the middle": np.concatenate([tuba(-20.0), noise(8.0, -66.0, 2), tuba(-26.0)]),
    "loud then soft": np.concatenate([noise(4.0, -14.0, 3), noise(12.0, -34.0, 4)]),
    **{f"music {seed}": music(seed) for seed in range(6)},
}


@pytest.mark.parametrize("name", SOUNDS)
def test_loudness_is_that_of_pyloudnorm(name: str) -> None:
    sound = SOUNDS[name]
    meter = Loudness()
    for at in range(0, len(sound), 700):
        meter.process(sound[at : at + 700])
    theirs = pyloudnorm.Meter(RATE).integrated_loudness(sound.astype(np.float64))
    assert meter.integrated == pytest.approx(theirs, abs=TOLERANCE_LU)
