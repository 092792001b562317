"""A gain that follows the level is suspected; an honest microphone is not, whatever players do."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from scipy import signal

from firmware.hearing.gain_watch import GainWatch
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, ToneSound
from firmware.units import RATE, gain_of
from hardware.simulated.room import pink_noise, response

SECONDS = 75
COUNT = SECONDS * RATE


@lru_cache(maxsize=1)
def drone() -> np.ndarray:
    engine = Engine()
    tones = tuple(ToneSound(116.54 * ratio) for ratio in (1.0, 1.25, 1.5, 2.0, 2.5, 3.0))
    engine.sound = Sound(DroneSound(on=True, tones=tones, level_db=-18.0))
    return np.concatenate([engine.process(np.zeros(4800, np.float32)) for _ in range(COUNT // 4800)])


@lru_cache(maxsize=2)
def players(pause: float) -> np.ndarray:
    """Notes of 1.5 s with pauses between them, at levels of their own."""
    generator = np.random.default_rng(4)
    sound = np.zeros(COUNT)
    time = np.arange(round(1.5 * RATE)) / RATE
    for start in np.arange(0.0, SECONDS - 6.0, 1.5 + pause):
        hz = 116.54 * 2 ** (generator.integers(0, 24) / 12)
        note = np.sum([np.sin(2 * np.pi * hz * k * time + k) / k for k in range(1, 10)], axis=0)
        place = round(start * RATE)
        sound[place : place + len(note)] += note * 0.15 * 10 ** (generator.uniform(-8, 4) / 20)
    return sound


@lru_cache(maxsize=4)
def microphone(pause: float, *, droning: bool) -> np.ndarray:
    generator = np.random.default_rng(5)
    near, far = response(0.6, 300, -9.0, generator), response(0.8, 2000, -3.0, generator)
    mic = signal.fftconvolve(players(pause), near)[:COUNT]
    if droning:
        mic += signal.fftconvolve(drone(), far)[:COUNT] * gain_of(-10.0)
    return mic + pink_noise(1 << 19, -60.0, generator)[np.arange(COUNT) % (1 << 19)]


def automatic(sound: np.ndarray, ratio: float, release: float) -> np.ndarray:
    """A feed-forward compressor: threshold -40 dB, attack 10 ms."""
    out, gain, step = np.empty_like(sound), 0.0, 240
    for start in range(0, len(sound), step):
        part = sound[start : start + step]
        level = 10 * np.log10(np.mean(part**2) + 1e-12)
        wanted = -(1 - 1 / ratio) * max(0.0, level + 40.0)
        gain = wanted + (gain - wanted) * np.exp(-step / RATE / (0.01 if wanted < gain else release))
        out[start : start + step] = part * 10 ** (gain / 20)
    return out


def suspects(mic: np.ndarray, own: np.ndarray) -> bool:
    watch = GainWatch()
    for start in range(0, len(mic), 24_000):
        watch.process(mic[start : start + 24_000], own[start : start + 24_000])
    return watch.rides


@pytest.mark.parametrize(
    ("ratio", "release"),
    [(4.0, 1.5), pytest.param(2.0, 1.5, marks=pytest.mark.long), pytest.param(20.0, 0.2, marks=pytest.mark.long)],
)
def test_the_drone_gives_it_away(ratio: float, release: float) -> None:
    mic = microphone(2.0, droning=True)
    assert suspects(automatic(mic, ratio, release), drone())


def test_noise_that_rises_in_pauses_gives_it_away() -> None:
    silent = np.zeros(COUNT, np.float32)
    assert suspects(automatic(microphone(5.0, droning=False), 6.0, 1.5), silent)


@pytest.mark.parametrize(("pause", "droning"), [(2.0, True), (5.0, False)])
def test_an_honest_microphone_is_not_suspected(pause: float, *, droning: bool) -> None:
    own = drone() if droning else np.zeros(COUNT, np.float32)
    assert not suspects(microphone(pause, droning=droning), own)


@pytest.mark.long
def test_a_player_at_unison_with_the_drone_is_no_gain() -> None:
    time = np.arange(COUNT) / RATE
    loud = 0.3 + 0.7 * (np.sin(2 * np.pi * 0.4 * time) > 0)
    player = np.sum([np.sin(2 * np.pi * 116.6 * k * time + k) / k for k in range(1, 14)], axis=0) * 0.2 * loud
    assert not suspects(microphone(5.0, droning=True) + player, drone())


def test_silence_and_what_is_no_number_are_not_suspected() -> None:
    silent = np.zeros(RATE * 5, np.float32)
    assert not suspects(np.full(RATE * 5, np.nan), silent)
    assert not suspects(np.zeros(RATE * 5), silent)
