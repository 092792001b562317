"""The offset of two clocks from three seconds of drone, in rooms."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from scipy import signal

from firmware.hearing.clock_offset import clock_offset
from firmware.hearing.room_clock import on_other_clock
from firmware.music.harmony import Harmony, tones_of
from firmware.music.keys import key_of
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
from firmware.units import RATE, gain_of
from hardware.simulated.room import pink_noise, response

BEGIN, END = round(0.9 * RATE), round(3.9 * RATE)
"""Three seconds, once the room is full of sound."""


@lru_cache(maxsize=4)
def drone(shape: str, tuning: str) -> np.ndarray:
    tones = tones_of(Harmony(key=key_of("Bb", "major"), shape=shape, tuning=tuning))
    engine = Engine()
    engine.sound = Sound(DroneSound(on=True, tones=tuple(ToneSound(t.hz, t.level_db) for t in tones), level_db=-18.0))
    return np.concatenate([engine.process(np.zeros(4800, np.float32)) for _ in range(40)])[: 4 * RATE]


def microphone(own: np.ndarray, ppm: float, rt60: float, noise_db: float = -66.0) -> np.ndarray:
    generator = np.random.default_rng(7)
    taps = response(rt60, 2100, -3.0, generator) * gain_of(-10.0)
    heard = on_other_clock(signal.fftconvolve(own, taps)[: len(own)], -ppm)
    return heard + pink_noise(1 << 18, noise_db, generator)[: len(own)]


@pytest.mark.parametrize(
    ("shape", "tuning", "ppm", "rt60"),
    [("octaves", "just", 100.0, 0.4), ("triad", "just", -30.0, 0.8), ("triad", "equal", 0.0, 1.2)],
)
def test_three_seconds_of_drone_tell_it_to_one_part_in_a_million(
    shape: str, tuning: str, ppm: float, rt60: float
) -> None:
    own = drone(shape, tuning)
    found = clock_offset(microphone(own, ppm, rt60)[BEGIN:END], own[BEGIN:END], RATE)
    assert found is not None
    assert found.ppm == pytest.approx(ppm, abs=1.0)
    assert found.sd_ppm < 1.0
    assert found.agreement > 0.9


def test_noise_makes_it_less_sure() -> None:
    own = drone("triad", "just")
    calm, loud = (
        clock_offset(microphone(own, 50.0, 0.6, noise)[BEGIN:END], own[BEGIN:END], RATE) for noise in (-80.0, -45.0)
    )
    assert calm is not None
    assert loud is not None
    assert loud.sd_ppm > 3 * calm.sd_ppm
    assert abs(loud.ppm - 50.0) < 4 * loud.sd_ppm


def test_there_may_be_nothing_to_tell() -> None:
    own = drone("triad", "just")
    noise = pink_noise(1 << 18, -30.0, np.random.default_rng(1))[: len(own)]
    assert clock_offset(noise[BEGIN:END], own[BEGIN:END], RATE) is None
    assert clock_offset(noise, np.zeros(len(noise)), RATE) is None
    assert clock_offset(noise[:9000], own[:9000], RATE) is None
    changing = noise * 0.1  # noise as own sound has no steady bins
    assert clock_offset(noise[BEGIN:END], changing[BEGIN:END], RATE) is None


def test_a_muted_microphone_tells_nothing() -> None:
    own = drone("octaves", "just")[BEGIN:END]
    assert clock_offset(np.zeros_like(own), own, RATE) is None
