"""Signals for the pitch figures: tones in pink noise, each with its true pitch and the bound on any reading of it.

A tone has up to 24 harmonic partials that fall off by a random law of 3 to 9 dB an octave, each scattered by 4 dB, at
random phases; all under 20 kHz. Noise is pink from 20 Hz to 24 kHz, its level set against the whole tone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firmware.hearing.own_stream import FACTOR, HOP
from firmware.units import RATE

BANDS = {"39-120 Hz": (39.0, 120.0), "120-1000 Hz": (120.0, 1000.0), "1000-4186 Hz": (1000.0, 4186.0)}
WINDOWS = {"43 ms": 2048, "85 ms": 4096, "171 ms": 8192}
NOISES = {"no noise": np.inf, "20 dB": 20.0, "10 dB": 10.0, "0 dB": 0.0}
LEVEL = 0.1
LOWEST_NOISE_HZ = 20.0
BEFORE_HOPS = 4
"""Hops of the ear, 160 ms, that a stream of noise has gone on for before the tone begins."""


@dataclass(frozen=True, slots=True)
class Tone:
    """One stretch of sound, the pitch in it, and the standard deviation in cents that no reading can beat.

    `before` is the noise of the room until the tone begins with the stretch.
    """

    sound: np.ndarray
    hz: float
    bound: float
    before: np.ndarray

    @property
    def stream(self) -> np.ndarray:
        """What a microphone gives until the end of the stretch."""
        return np.concatenate([self.before, self.sound])


def pink(count: int, rng: np.random.Generator) -> np.ndarray:
    """Pink noise of mean power 1; what is longer than a window is cut out of it."""
    whole = 2 * max(count, 8192)
    hz = np.fft.rfftfreq(whole, 1 / RATE)
    bins = rng.standard_normal(len(hz)) + 1j * rng.standard_normal(len(hz))
    bins *= np.where(hz >= LOWEST_NOISE_HZ, 1 / np.sqrt(np.maximum(hz, 1.0)), 0.0)
    power = 2 * (2 / np.maximum(hz[hz >= LOWEST_NOISE_HZ], 1.0)).sum() / whole**2
    sound: np.ndarray = np.fft.irfft(bins, whole)[:count] / np.sqrt(power)
    return sound


def pink_density(hz: np.ndarray) -> np.ndarray:
    """Power per sample at a frequency of noise of mean power 1: for white noise it would be 1 everywhere."""
    return RATE / 2 / np.log(RATE / 2 / LOWEST_NOISE_HZ) / hz


def bound_cents(hz: float, levels: np.ndarray, noise: float, count: int) -> float:
    """Cramér-Rao bound for the fundamental of a harmonic tone.

    Kay, *Fundamentals of Statistical Signal Processing: Estimation Theory*, 3.11, with the partials' information added
    up: var(f) >= (fs / 2 pi)^2 * 24 / (N (N^2 - 1) sum of k^2 A_k^2 / S(k f)), S the noise's power per sample there.
    """
    if noise == 0:
        return 0.0
    number = np.arange(1, len(levels) + 1)
    information = float((number**2 * levels**2 / (noise * pink_density(number * hz))).sum())
    variance = (RATE / (2 * np.pi)) ** 2 * 24 / (count * (count**2 - 1.0) * information)
    return 1200 / np.log(2) * float(np.sqrt(variance)) / hz


def before_of(count: int) -> int:
    """Samples to put before a stretch, so that a hop of the ear ends with it."""
    hop = FACTOR * HOP
    return BEFORE_HOPS * hop + -count % hop


def tone(
    hz: float, count: int, snr: float, rng: np.random.Generator, cents: np.ndarray | None = None, before: int = 0
) -> Tone:
    """A tone of `count` samples in noise, which began `before` it; `cents` moves its pitch sample by sample."""
    partials = min(24, int(20_000 / hz))
    number = np.arange(1, partials + 1)
    levels = number ** -rng.uniform(0.5, 1.5) * np.exp(rng.normal(0, 0.46, partials))
    levels *= np.sqrt(2 / (levels**2).sum())
    if cents is None:
        phase = 2 * np.pi * hz / RATE * np.arange(count)
    else:
        phase = 2 * np.pi * hz / RATE * np.concatenate([[0.0], np.cumsum(2 ** (cents / 1200))[:-1]])
    sound = np.zeros(count)
    for k, level, start in zip(number, levels, rng.uniform(0, 2 * np.pi, partials), strict=True):
        sound += level * np.cos(k * phase + start)
    noise = 10 ** (-snr / 10)
    hiss = LEVEL * np.sqrt(noise) * pink(before + count, rng)
    return Tone(LEVEL * sound + hiss[before:], hz, bound_cents(hz, levels, noise, count), hiss[:before])


def tones(band: tuple[float, float], count: int, snr: float, trials: int, seed: int) -> list[Tone]:
    """Tones at random pitches of a band, evenly in its logarithm."""
    rng = np.random.default_rng(seed)
    low, high = np.log(band)
    before = before_of(count)
    return [tone(float(np.exp(rng.uniform(low, high))), count, snr, rng, before=before) for _ in range(trials)]
