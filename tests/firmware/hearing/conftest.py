"""Rooms, players and drones made from formulas, with their pitch known exactly."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest
from scipy.signal import fftconvolve

from firmware.heard_events import Heard
from firmware.hearing.ear import Ear

RATE = 48_000


class Stage:
    """Makes sounds; everything random comes from one seed."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)

    def pink(self, seconds: float) -> np.ndarray:
        """Pink noise of RMS 1."""
        count = int(seconds * RATE)
        bins = np.fft.rfft(self.rng.standard_normal(count))
        bins /= np.sqrt(np.maximum(np.arange(len(bins)), 1.0))
        bins[:3] = 0
        sound = np.fft.irfft(bins, count)
        return sound / sound.std()

    def player(
        self,
        hz: float,
        seconds: float,
        *,
        partials: Sequence[float] | None = None,
        vibrato: float = 0.0,
        edge: float = 0.05,
    ) -> np.ndarray:
        """A tone of RMS 1: levels of its partials (random brass-like by default), vibrato of 5.5 Hz in cents."""
        time = np.arange(int(seconds * RATE)) / RATE
        bend = 2 ** (vibrato * np.sin(2 * np.pi * 5.5 * time) / 1200)
        phase = 2 * np.pi * np.cumsum(hz * bend) / RATE
        levels = np.arange(1, 21.0) ** -0.8 * self.rng.uniform(0.5, 1.5, 20) if partials is None else partials
        sound = np.zeros(len(time))
        for number, level in enumerate(levels, 1):
            if number * hz < 20_000:
                sound += level * np.cos(number * phase + self.rng.uniform(0, 2 * np.pi))
        sound /= sound.std()
        return self.faded(sound, edge)

    def drone(self, chord: Sequence[float], seconds: float) -> np.ndarray:
        """Steady tones of 16 partials, RMS 0.1, with soft ends like the engine's."""
        time = np.arange(int(seconds * RATE)) / RATE
        sound = np.zeros(len(time))
        for hz in chord:
            for number in range(1, 17):
                if number * hz < 20_000:
                    sound += np.cos(2 * np.pi * number * hz * time + self.rng.uniform(0, 2 * np.pi)) / number
        return self.faded(0.1 * sound / sound.std(), 0.08)

    def faded(self, sound: np.ndarray, seconds: float) -> np.ndarray:
        """The sound with soft ends."""
        count = int(seconds * RATE)
        if count:
            slope = np.sin(np.linspace(0, np.pi / 2, count)) ** 2
            sound[:count] *= slope
            sound[-count:] *= slope[::-1]
        return sound

    def room(self, sound: np.ndarray, rt60: float, delay: float, direct: float = 0.7) -> np.ndarray:
        """The sound in a room: exponentially decaying noise after a delay, of energy 1, and the direct sound."""
        time = np.arange(int(1.3 * rt60 * RATE)) / RATE
        response = self.rng.standard_normal(len(time)) * 10 ** (-3 * time / rt60)
        response /= np.sqrt((response**2).sum())
        response[0] += direct
        wet = fftconvolve(sound, response)[: len(sound)]
        return np.concatenate([np.zeros(int(delay * RATE)), wet])[: len(sound)]


@pytest.fixture
def stage() -> Callable[[int], Stage]:
    """A stage for a seed."""
    return Stage


@pytest.fixture
def hear() -> Callable[..., list[Heard]]:
    """What a fresh ear hears of a microphone and, perhaps, own sound, in blocks of 2048."""

    def heard(mic: np.ndarray, own: np.ndarray | None = None) -> list[Heard]:
        ear = Ear()
        played = np.zeros(len(mic)) if own is None else own
        result: list[Heard] = []
        for start in range(0, len(mic), 2048):
            part = slice(start, start + 2048)
            result.extend(ear.process(mic[part].astype(np.float32), played[part].astype(np.float32)))
        return result

    return heard
