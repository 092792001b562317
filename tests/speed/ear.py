"""What the ear costs and how exact it is: `python tests/speed/ear.py`.

Cost: processor time of `Ear.process` per second of sound, in blocks of 512, median of several runs: in silence, in pink
noise, with a player, with a drone of many lines taken out, and both. Accuracy: tones of random spectrum in pink noise,
cents off as median, 95th and 99th percentile, share over 50 cents, share not read. Through a drone: the same with the
drone over or under the player in a room. Everything made from formulas and one seed.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np
from scipy.signal import fftconvolve

from firmware.heard_events import Heard
from firmware.hearing.ear import Ear
from firmware.units import BLOCK, RATE

RESULTS = Path(__file__).parent / "results" / "ear.json"
ROOT = 116.54
TRIAD = tuple(ROOT * octave * 2 ** (steps / 12) for octave in (0.5, 1, 2) for steps in (0, 4, 7))
"""An equal triad in three octaves: about a hundred lines under 6 kHz."""

rng = np.random.default_rng(2026)


def pink(count: int) -> np.ndarray:
    """Pink noise of RMS 1."""
    bins = np.fft.rfft(rng.standard_normal(count)) / np.sqrt(np.maximum(np.arange(count // 2 + 1), 1.0))
    bins[:3] = 0
    sound = np.fft.irfft(bins, count)
    return sound / sound.std()


def tone(hz: float, seconds: float, partials: int = 24) -> np.ndarray:
    """A steady tone of random brass-like spectrum, RMS 1."""
    when = np.arange(int(seconds * RATE)) / RATE
    levels = np.arange(1, partials + 1.0) ** -rng.uniform(0.5, 1.5) * np.exp(rng.normal(0, 0.5, partials))
    sound = np.zeros(len(when))
    for number, level in enumerate(levels, 1):
        if number * hz < RATE / 2.4:
            sound += level * np.cos(2 * np.pi * number * hz * when + rng.uniform(0, 2 * np.pi))
    return sound / sound.std()


def chord(tones: tuple[float, ...], seconds: float) -> np.ndarray:
    """A drone of RMS 0.1."""
    sound = sum(tone(hz, seconds, 16) for hz in tones)
    return 0.1 * sound / np.std(sound)


def room(sound: np.ndarray, rt60: float, delay: float) -> np.ndarray:
    """The sound in a room of exponentially decaying noise."""
    when = np.arange(int(1.3 * rt60 * RATE)) / RATE
    response = rng.standard_normal(len(when)) * 10 ** (-3 * when / rt60)
    response = np.concatenate([np.zeros(int(delay * RATE)), response / np.sqrt((response**2).sum())])
    return fftconvolve(sound, response)[: len(sound)]


def hear(mic: np.ndarray, own: np.ndarray) -> tuple[list[Heard], float]:
    """Readings, and processor seconds per second of sound."""
    ear = Ear()
    near, ours = mic.astype(np.float32), own.astype(np.float32)
    readings: list[Heard] = []
    start = time.process_time()
    for first in range(0, len(near), BLOCK):
        readings.extend(ear.process(near[first : first + BLOCK], ours[first : first + BLOCK]))
    return readings, (time.process_time() - start) / (len(near) / RATE)


def costs(runs: int = 5) -> dict[str, float]:
    """Percent of one core."""
    seconds = 10.0
    count = int(seconds * RATE)
    silent = np.zeros(count)
    drone = chord(TRIAD, seconds)
    heard = room(drone, 0.8, 0.05) + 1e-3 * pink(count)
    low, middle = 0.1 * tone(58.27, seconds), 0.1 * tone(311.0, seconds)
    late = np.where(np.arange(count) > 4 * RATE, middle, 0.0)
    cases = {
        "silence": (silent, silent),
        "pink noise": (0.1 * pink(count), silent),
        "a player at 58 Hz": (low + 1e-3 * pink(count), silent),
        "a player at 311 Hz": (middle + 1e-3 * pink(count), silent),
        "a drone of about 100 lines": (heard, drone),
        "that drone and from 4 s on a player": (heard + late, drone),
    }
    return {
        name: round(100 * statistics.median(hear(*case)[1] for _ in range(runs)), 2) for name, case in cases.items()
    }


def spread(errors: list[float], asked: int) -> dict[str, float]:
    """Summary of cents off."""
    sizes = np.abs(errors)
    near = sizes[sizes <= 50]
    middle, most, nearly_all = (round(float(value), 4) for value in np.quantile(near, [0.5, 0.95, 0.99]))
    return {
        "median_cents": middle,
        "p95_cents": most,
        "p99_cents": nearly_all,
        "over_50_cents_percent": round(100 * float((sizes > 50).mean()), 2),
        "not_read_percent": round(100 * (1 - len(sizes) / asked), 2),
    }


def accuracy(trials: int = 40) -> dict[str, dict[str, float]]:
    """Tones in pink noise."""
    table = {}
    for snr in (20, 10, 0):
        for low, high in ((39, 120), (120, 1000), (1000, 4186)):
            errors, asked = [], 0
            for _ in range(trials):
                hz = float(np.exp(rng.uniform(np.log(low), np.log(high))))
                sound = tone(hz, 0.6)
                mic = 0.1 * (sound + 10 ** (-snr / 20) * pink(len(sound)))
                readings = hear(mic, np.zeros(len(mic)))[0][5:]
                asked += len(readings)
                errors += [1200 * np.log2(reading.hz / hz) for reading in readings if reading.hz is not None]
            table[f"{snr} dB, {low}-{high} Hz"] = spread(errors, asked)
    return table


def through_drone(trials: int = 8) -> dict[str, dict[str, float]]:
    """A player 1 to 20 cents off a rung of an octaves drone; RT60 0.8 s, noise 30 dB under the drone."""
    table = {}
    for over in (6, 0, -6):
        errors, asked = [], 0
        for _ in range(trials):
            own = np.concatenate([np.zeros(RATE // 2), chord((ROOT, 2 * ROOT), 8.5)])
            alone = room(own, 0.8, rng.uniform(0.01, 0.15))
            alone *= 0.05 / alone[2 * RATE :].std()
            hz = 2 * ROOT * 2 ** (rng.uniform(1, 20) * rng.choice([-1, 1]) / 1200)
            player = np.where(np.arange(len(own)) > 4 * RATE, 0.05 * 10 ** (-over / 20) * tone(hz, 9.0), 0.0)
            readings = hear(alone + player + 0.05 * 10 ** (-30 / 20) * pink(len(own)), own)[0]
            readings = [reading for reading in readings if reading.at > 4.3 * RATE]
            asked += len(readings)
            errors += [1200 * np.log2(reading.hz / hz) for reading in readings if reading.hz is not None]
        table[f"drone {over:+d} dB over the player"] = spread(errors, asked)
    return table


def main() -> None:
    """Measure, print and keep."""
    result = {
        "python": platform.python_version(),
        "numpy": np.__version__,
        "machine": platform.machine(),
        "percent_of_one_core": costs(),
        "in_pink_noise": accuracy(),
        "unison_with_own_drone": through_drone(),
    }
    text = json.dumps(result, indent=2)
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(text + "\n", encoding="utf-8")
    print(text)  # noqa: T201 - a script that shows what it measured


if __name__ == "__main__":
    main()
