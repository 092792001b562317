"""What the room check learns and what the level costs: `python tests/speed/room.py`.

Rooms are synthetic (`hardware.simulated.room`: direct sound, early reflections, a tail of noise), with a second of
silence before the test signal of 3 s at -18 dBFS peak, a gain of the way of -10 dB, and pink noise at the microphone.
The truth of a line is the Fourier transform of the room's own response. Removal is how far all lines together are taken
down by the prediction, on 300 frequencies, 75 evenly spaced in pitch in each of four bands; the errors of their phases
and levels stand beside it. Clock offsets are made by band-limited resampling that errs by less than -80 dB.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: one core is what is measured

import numpy as np

from firmware.hearing.clock_offset import clock_offset
from firmware.hearing.room_check import learn_room
from firmware.hearing.room_clock import on_other_clock
from firmware.hearing.sound_watch import SoundWatch
from firmware.music.harmony import Harmony, tones_of
from firmware.music.keys import key_of
from firmware.sound.engine import Engine
from firmware.sound.snapshot import DroneSound, Sound, SweepSound, ToneSound
from firmware.units import BLOCK, RATE, Samples, gain_of
from hardware.simulated.room import pink_noise, response

RESULTS = Path(__file__).parent / "results" / "room.json"
SEEDS = range(5)
BANDS = ((45.0, 125.0), (125.0, 500.0), (500.0, 2000.0), (2000.0, 6000.0))


def played(sound: Sound, seconds: float) -> Samples:
    """What the engine plays."""
    engine = Engine()
    engine.sound = sound
    return np.concatenate([engine.process(np.zeros(480, np.float32)) for _ in range(round(seconds * 100))])


def through(sound: np.ndarray, taps: np.ndarray) -> np.ndarray:
    """Convolution, cut to the length of the sound."""
    size = 2 ** int(np.ceil(np.log2(len(sound) + len(taps))))
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(taps, size), size)[: len(sound)]


def heard(own: Samples, rt60: float, noise_db: float, ppm: float, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """A microphone, and the response of its room."""
    generator = np.random.default_rng([seed, round(10 * rt60)])
    taps = response(rt60, 2112, -3.0, generator).astype(np.float64) * gain_of(-10.0)
    mic = through(own.astype(np.float64), taps)
    mic = on_other_clock(mic, -ppm) if ppm else mic
    return mic + pink_noise(1 << 19, noise_db, generator)[: len(mic)], taps


def decibels(power: float) -> float:
    """Ten times the logarithm, to a tenth."""
    return round(float(10 * np.log10(power)), 1)


def check(own: Samples, rt60: float, noise_db: float, ppm: float = 0.0) -> dict[str, object]:
    """Room checks in a few rooms of one kind."""
    error, true_power, stated, phases, levels, rows = [], [], [], [], [], []
    seconds = []
    for seed in SEEDS:
        mic, taps = heard(own, rt60, noise_db, ppm, seed)
        begin = time.process_time()
        room = learn_room(mic.astype(np.float32), own, RATE)
        seconds.append(time.process_time() - begin)
        hz = np.concatenate([np.geomspace(*band, 75) for band in BANDS])
        true = np.exp(-2j * np.pi / RATE * np.outer(hz, np.arange(len(taps)))) @ taps
        true = true * np.exp(-2j * np.pi / RATE * hz * room.since * room.clock_ppm * 1e-6)
        found = room.response_at(hz)
        error.append(np.abs(found - true) ** 2)
        true_power.append(np.abs(true) ** 2)
        stated.append(room.error_at(hz) ** 2)
        phases.append(np.abs(np.degrees(np.angle(found / true))))
        levels.append(np.abs(20 * np.log10(np.abs(found / true))))
        exact = 1e6 * (1 / (1 - ppm * 1e-6) - 1)
        rows.append(
            (abs(room.clock_ppm - exact), abs(room.delay - 2112 - room.since * ppm * 1e-6), room.rt60 or np.nan)
        )
    shape = (len(SEEDS), len(BANDS), -1)
    e, t = np.reshape(error, shape).mean((0, 2)), np.reshape(true_power, shape).mean((0, 2))
    return {
        "rt60": rt60,
        "noise_db": noise_db,
        "ppm": ppm,
        "removal_db": decibels(np.mean(true_power) / np.mean(error)),
        "removal_db_stated": decibels(np.mean(true_power) / np.mean(stated)),
        "removal_db_by_band": {f"{a:g}-{b:g}": decibels(x) for (a, b), x in zip(BANDS, t / e, strict=True)},
        "phase_degrees_median_p95": [round(float(np.percentile(phases, q)), 2) for q in (50, 95)],
        "level_db_median_p95": [round(float(np.percentile(levels, q)), 3) for q in (50, 95)],
        "clock_error_ppm_worst": round(max(row[0] for row in rows), 3),
        "delay_error_samples_worst": round(max(row[1] for row in rows), 2),
        "rt60_found": [round(float(f(row[2] for row in rows)), 2) for f in (min, max)],
        "processor_seconds": round(statistics.median(seconds), 3),
    }


def disturbed(own: Samples, kind: str) -> dict[str, object]:
    """A room check while something goes wrong; the truth is the undisturbed room. RT60 0.8 s, noise -66 dB."""
    removal, stated, distortion = [], [], []
    for seed in SEEDS:
        generator = np.random.default_rng([seed, 99])
        mic, taps = heard(own, 0.8, -66.0, 0.0, seed)
        sound, at = own.astype(np.float64), np.arange(len(own)) / RATE
        if kind == "PA saturates (tanh, 4 % of the third harmonic at full sweep)":
            mic += through(np.tanh(sound * 5.8) / 5.8 - sound, taps)
        elif kind == "people walk (a tenth of the tail's amplitude changes over 5.6 s)":
            other = response(0.8, 2112, -3.0, generator) * gain_of(-10.0)
            other[2112] = 0.0
            mic += 0.1 * at / at[-1] * through(sound, other)
        elif kind == "players murmur (four notes, -46 dB each)":
            for hz in 110.0 * 2.0 ** (generator.integers(0, 30, 4) / 12):
                mic += 0.005 * np.sqrt(2) * np.sum([np.sin(2 * np.pi * hz * k * at) / k for k in range(1, 9)], axis=0)
        room = learn_room(mic.astype(np.float32), own, RATE)
        hz = np.concatenate([np.geomspace(*band, 75) for band in BANDS])
        true = np.exp(-2j * np.pi / RATE * np.outer(hz, np.arange(len(taps)))) @ taps
        power = np.mean(np.abs(true) ** 2)
        removal.append(power / np.mean(np.abs(room.response_at(hz) - true) ** 2))
        stated.append(power / np.mean(room.error_at(hz) ** 2))
        distortion.append(room.distortion_db)
    return {
        "disturbance": kind,
        "removal_db": decibels(float(np.median(removal))),
        "removal_db_stated": decibels(float(np.median(stated))),
        "distortion_db": round(statistics.median(distortion), 1),
    }


DISTURBANCES = (
    "none",
    "PA saturates (tanh, 4 % of the third harmonic at full sweep)",
    "people walk (a tenth of the tail's amplitude changes over 5.6 s)",
    "players murmur (four notes, -46 dB each)",
)


def drone_clock(timbre: str, noise_db: float) -> dict[str, object]:
    """Clock offsets from 3 s of drone, 0.9 s after it began."""
    off, sure = [], []
    for shape in ("octaves", "fifth", "triad", "seventh"):
        for tuning in ("just", "equal"):
            tones = tones_of(Harmony(key=key_of("Bb", "major"), shape=shape, tuning=tuning))
            sounding = tuple(ToneSound(tone.hz, tone.level_db) for tone in tones)
            own = played(Sound(DroneSound(on=True, tones=sounding, timbre=timbre, level_db=-18.0)), 4.0)
            for rt60, ppm in ((0.4, 100.0), (0.8, -30.0), (1.2, 100.0)):
                mic, _ = heard(own, rt60, noise_db, ppm, 1)
                inside = slice(round(0.9 * RATE), round(3.9 * RATE))
                found = clock_offset(mic[inside], own[inside], RATE)
                if found is not None:
                    off.append(abs(found.ppm - ppm))
                    sure.append(found.sd_ppm)
    return {
        "timbre": timbre,
        "noise_db": noise_db,
        "found": f"{len(off)} of 24",
        "error_ppm_median_p95_worst": [round(float(np.percentile(off, q)), 3) for q in (50, 95, 100)],
        "stated_sd_ppm_median": round(statistics.median(sure), 3),
    }


def watch_percent() -> float:
    """Percent of one core for level, hum and gain together, in blocks of 512."""
    generator = np.random.default_rng(1)
    blocks = generator.standard_normal((20 * RATE // BLOCK, BLOCK)).astype(np.float32) * np.float32(0.1)
    watch = SoundWatch()
    begin = time.process_time()
    for block in blocks:
        watch.process(block, block)
    return round(100 * (time.process_time() - begin) / (blocks.size / RATE), 2)


def run() -> dict[str, object]:
    """All figures."""
    own = played(Sound(sweep=SweepSound(on=True, start=RATE, level_db=-18.0)), 5.6)
    checks = [check(own, rt60, noise) for rt60 in (0.4, 0.8, 1.2) for noise in (-80.0, -66.0, -50.0)]
    checks += [check(own, 0.8, -66.0, ppm) for ppm in (100.0, -300.0)]
    return {
        "date": time.strftime("%Y-%m-%d"),
        "machine": f"{platform.machine()}, Python {platform.python_version()}, NumPy {np.__version__}",
        "room_check": checks,
        "disturbed": [disturbed(own, kind) for kind in DISTURBANCES],
        "clock_from_drone": [drone_clock(name, noise) for name in ("reed", "plain") for noise in (-66.0, -50.0)],
        "sound_watch_percent": statistics.median(watch_percent() for _ in range(3)),
    }


if __name__ == "__main__":
    found = run()
    RESULTS.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(json.dumps(found, indent=1) + "\n")
