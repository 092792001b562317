"""What the tests of own sound's removal share: what the engine plays, a room, its check, and a microphone in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from firmware.hearing.room import Room
from firmware.hearing.room_check import learn_room
from firmware.hearing.room_clock import on_other_clock
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, SweepSound, ToneSound
from firmware.units import RATE, Samples, gain_of, samples_of
from hardware.simulated.room import pink_noise, response

CHECK_SECONDS = 5.6
CHECK = Sound(sweep=SweepSound(on=True, start=RATE, level_db=-18.0))


def drone(*hz: float, timbre: str = "reed") -> Sound:
    """A drone of these tones."""
    return Sound(drone=DroneSound(on=True, tones=tuple(ToneSound(one) for one in hz), timbre=timbre, level_db=-18.0))


def played(*parts: tuple[Sound, float]) -> Samples:
    """What the engine plays: each sound for so many seconds."""
    engine, blocks = Engine(), []
    for sound, seconds in parts:
        engine.sound = sound
        blocks += [engine.process(np.zeros(480, np.float32)) for _ in range(round(seconds * 100))]
    return np.concatenate(blocks)


def through(sound: np.ndarray, taps: np.ndarray) -> np.ndarray:
    """Convolution, cut to the length of the sound."""
    size = 2 ** int(np.ceil(np.log2(len(sound) + len(taps))))
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(taps, size), size)[: len(sound)]


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """A room with the box in it: response from loudspeaker to microphone, clocks, and noise."""

    taps: np.ndarray
    ppm: float = 0.0
    noise_db: float = -66.0

    def mic(self, own: Samples, seed: int = 1) -> np.ndarray:
        """What the microphone hears of own sound, in noise."""
        heard = through(own.astype(np.float64), self.taps)
        if self.ppm:
            heard = on_other_clock(heard, -self.ppm)
        noise = pink_noise(1 << 20, self.noise_db, np.random.default_rng(seed))
        return heard + np.resize(noise, len(heard))


@lru_cache(maxsize=4)
def place(rt60: float = 0.8, ppm: float = 0.0, seed: int = 1) -> Place:
    """A room with a reverberation time; sound arrives 44 ms late."""
    taps = response(rt60, 2112, -3.0, np.random.default_rng(seed)).astype(np.float64) * gain_of(-10.0)
    return Place(taps, ppm)


@lru_cache(maxsize=4)
def checked(rt60: float = 0.8, ppm: float = 0.0, seed: int = 1) -> Room:
    """What a room check finds in it, from sample 0 on."""
    own = played((CHECK, CHECK_SECONDS))
    return learn_room(place(rt60, ppm, seed).mic(own).astype(np.float32), own, RATE)


def tone(hz: float, seconds: float, levels: Sequence[float] | None = None) -> np.ndarray:
    """A player with twenty partials, RMS 1, with soft ends."""
    time = np.arange(samples_of(seconds)) / RATE
    chosen = np.arange(1, 21.0) ** -0.8 if levels is None else levels
    sound = sum(
        level * np.cos(2 * np.pi * number * hz * time + number**2)
        for number, level in enumerate(chosen, 1)
        if number * hz < 20_000
    )
    edge = np.sin(np.linspace(0, np.pi / 2, samples_of(0.05))) ** 2
    sound[: len(edge)] *= edge
    sound[-len(edge) :] *= edge[::-1]
    return np.asarray(sound / np.std(sound))
