"""The sounds of the pulse, made of sines and noise that die away; all are the box's own."""

from __future__ import annotations

import functools
from collections.abc import Callable
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.music.kit import SOUNDS
from firmware.units import Samples

HIGH_HZ: Final = 2100.0
LOW_HZ: Final = 1400.0

Floats = NDArray[np.float64]


def sound_of(name: str, rate: int) -> Samples:
    """Sound of a name in `firmware.music.kit.SOUNDS`, shape (n,), float32, its peak 1; "tick" for any other name."""
    return _made(name if name in MAKERS else "tick", rate)


@functools.lru_cache(maxsize=64)
def _made(name: str, rate: int) -> Samples:
    make, seconds, peak_db = MAKERS[name]
    count = round(seconds * rate)
    time = (np.arange(count) + 1.0) / rate
    # The window ends in nothing with a level slope, so that no sound is cut off.
    raw = make(time) * 0.5 * (1.0 + np.cos(np.pi * np.arange(count) / count))
    sound = np.asarray(raw / np.abs(raw).max() * 10 ** (peak_db / 20), dtype=np.float32)
    sound.flags.writeable = False
    return sound


def _sine(hz: float, time: Floats, decay: float) -> Floats:
    return np.asarray(np.sin(2 * np.pi * hz * time) * np.exp(-time / decay))


def _noise(time: Floats, decay: float, seed: int, smooth: int = 0) -> Floats:
    """Noise that dies away; differences of neighbours make it bright, means of `smooth` neighbours dull."""
    noise = np.random.default_rng(seed).standard_normal(len(time))
    noise = np.convolve(noise, np.ones(smooth) / smooth, "same") if smooth else np.diff(noise, prepend=0.0)
    return np.asarray(noise * np.exp(-time / decay))


def _knock(hz: float, decay: float = 0.006) -> Callable[[Floats], Floats]:
    """A knock of `hz` with a softer partial 2.7 times as high."""
    return lambda time: _sine(hz, time, decay) + 0.5 * _sine(2.7 * hz, time, decay / 4)


def _wood(hz: float) -> Callable[[Floats], Floats]:
    """A hollow block: two partials of a bar that is free at both ends (1 : 2.76), and the stick."""
    return lambda time: _sine(hz, time, 0.018) + 0.6 * _sine(2.76 * hz, time, 0.008) + 0.3 * _noise(time, 0.001, 3)


def _drum(low: float, high: float, decay: float) -> Callable[[Floats], Floats]:
    """A skin whose pitch falls from `high` to `low` as the blow dies away."""

    def make(time: Floats) -> Floats:
        glide = 0.025
        phase = low * time + (high - low) * glide * (1.0 - np.exp(-time / glide))
        return np.asarray(np.sin(2 * np.pi * phase) * np.exp(-time / decay) + 0.1 * _noise(time, 0.002, 5))

    return make


def _snare(time: Floats) -> Floats:
    return _sine(190.0, time, 0.03) + 0.6 * _sine(330.0, time, 0.02) + 0.7 * _noise(time, 0.045, 7, smooth=2)


def _cymbal(time: Floats) -> Floats:
    ring = sum((_sine(hz, time, 0.09) for hz in (3170.0, 4210.0, 5430.0, 7390.0, 9110.0)), np.zeros(len(time)))
    return np.asarray(0.25 * ring + 0.5 * _noise(time, 0.05, 11))


def _bell(time: Floats) -> Floats:
    return _sine(820.0, time, 0.09) + 0.7 * _sine(1230.0, time, 0.07) + 0.2 * _sine(2950.0, time, 0.02)


def _shaker(time: Floats) -> Floats:
    """Grains that gather for some milliseconds before they fall; the blow is the loudest moment."""
    rise = np.minimum(time / 0.004, 1.0)
    return _noise(time, 0.018, 13) * rise


MAKERS: Final = MappingProxyType(
    {
        # name: how it is made, seconds, peak in dB
        "high": (_knock(HIGH_HZ), 0.03, 0.0),
        "low": (_knock(LOW_HZ), 0.03, 0.0),
        "tick": (_knock(3300.0, 0.002), 0.012, 0.0),
        "wood": (_wood(1050.0), 0.09, 0.0),
        "block": (_wood(700.0), 0.1, 0.0),
        "shaker": (_shaker, 0.08, 0.0),
        "bass": (_drum(55.0, 130.0, 0.09), 0.3, 0.0),
        "snare": (_snare, 0.18, 0.0),
        "cymbal": (_cymbal, 0.25, 0.0),
        "tom": (_drum(110.0, 190.0, 0.1), 0.3, 0.0),
        "bell": (_bell, 0.3, 0.0),
        "cut": (_drum(240.0, 480.0, 0.02), 0.08, 0.0),
    }
)


def all_sounds(rate: int) -> dict[str, Samples]:
    """Every sound by its name, made beforehand so that no block waits for one."""
    return {name: sound_of(name, rate) for name in SOUNDS}
