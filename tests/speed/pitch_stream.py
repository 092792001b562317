"""What the ear makes of a stream: how soon after an onset it reads right, how it follows held notes and a vibrato."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from firmware.heard_events import Heard
from firmware.hearing.own_stream import FACTOR
from firmware.hearing.pitch import LENGTHS
from firmware.hearing.players import PlayersListener
from firmware.units import BLOCK, RATE
from tests.speed.pitch_ours import by_stretch, stream
from tests.speed.pitch_sections import one_player, sections
from tests.speed.pitch_signals import BANDS, before_of, tone

ONSETS = {"E1": 41.2, "Bb1": 58.27, "Bb2": 116.54, "Bb3": 233.08, "Bb4": 466.16, "Bb5": 932.33}
RIGHT = 5.0
STEP = 96
"""Samples between the moments at which one stretch is asked for its pitch: 2 ms."""
VIBRATO = {"Bb2": 116.54, "Bb3": 233.08, "Bb4": 466.16, "Bb5": 932.33, "Bb6": 1864.66}
WIDTH, RATE_HZ = 20.0, 5.5


def onset_in(hz: float, rng: np.random.Generator, at: int, seconds: float) -> np.ndarray:
    """Room noise 40 dB under a tone that begins at a sample and rises over 5 ms."""
    count = int(seconds * RATE)
    sound = tone(hz, count, np.inf, rng).sound
    rise = np.clip((np.arange(count) - at) / (0.005 * RATE), 0, 1)
    quiet = tone(hz, count, -20.0, rng).sound  # a tenth of it is noise 20 dB over a tone, which is not used
    noise = quiet - quiet.mean()
    noise *= 10 ** (-40 / 20) * sound.std() / noise.std()
    return np.asarray(sound * (0.5 - 0.5 * np.cos(np.pi * rise)) + noise)


def delays(trials: int = 8) -> dict[str, dict[str, float]]:
    """Milliseconds from an onset to the first of two right readings in a row.

    `stretch`: one asks every 2 ms what the sound until now holds. `box`: until the box could show it, by all that
    listens to players in blocks of 512, the wait for a full block included; onsets lie anywhere in a block. There the
    first reading is followed by the ear's own, up to 40 ms later, so the first alone counts.
    """
    table = {}
    for name, hz in ONSETS.items():
        rng = np.random.default_rng(int(hz))
        asked, told = [], []
        for trial in range(trials):
            at = RATE // 2 + trial * 512 // trials
            mic = onset_in(hz, rng, at, 1.0)
            asked.append(
                first_right([(end, by_stretch(mic[:end])) for end in range(at + 384, at + 3840, STEP)], hz, at)
            )
            told.append(first_told(mic, hz, at))
        table[name] = {
            "stretch_ms": round(float(np.median(asked)), 1),
            "box_median_ms": round(float(np.median(told)), 1),
            "box_p95_ms": round(float(np.quantile(told, 0.95)), 1),
        }
    return table


def first_told(mic: np.ndarray, hz: float, at: int) -> float:
    """Milliseconds from sample `at` until the box is told a right reading; a quiet room of 2 s lies before `mic`."""
    quiet = mic[: RATE // 4]
    near = np.concatenate([*[quiet] * 8, mic]).astype(np.float32)
    begin = at + 8 * len(quiet)
    listener, own = PlayersListener(), np.zeros(BLOCK, np.float32)
    for first in range(0, len(near) - BLOCK + 1, BLOCK):
        for one in listener.process(near[first : first + BLOCK], own):
            right = isinstance(one, Heard) and one.hz and abs(1200 * np.log2(one.hz / hz)) <= RIGHT
            if first + BLOCK > begin and right:
                return 1000 * (first + BLOCK - begin) / RATE
    return np.inf


def first_right(readings: list[tuple[int, float]], hz: float, at: int) -> float:
    """Milliseconds from sample `at` until a reading is right and the next one too."""
    for (end, value), (_, after) in pairwise(readings):
        if end >= at and all(abs(1200 * np.log2(one / hz)) <= RIGHT for one in (value, after)):
            return 1000 * (end - at) / RATE
    return np.inf


def vibrato(trials: int = 4, snr: float = 30.0) -> dict[str, dict[str, float]]:
    """Cents off of single readings against the pitch at their centre, and of their mean over a second."""
    table = {}
    for name, hz in VIBRATO.items():
        rng = np.random.default_rng(int(hz))
        frames: list[float] = []
        means: list[float] = []
        for _ in range(trials):
            time = np.arange(int(2.5 * RATE)) / RATE
            cents = WIDTH * np.sin(2 * np.pi * RATE_HZ * time + rng.uniform(0, 2 * np.pi))
            mic = tone(hz, len(time), snr, rng, cents).sound
            steady = [one for _, one in stream(mic) if one.hz is not None and 0.5 * RATE < one.at < 2.2 * RATE]
            off = np.array([1200 * np.log2(one.hz / hz) for one in steady])
            frames.extend(off - cents[[one.at for one in steady]])
            firsts = range(0, len(steady) - 25, 5)
            means.extend(float(np.mean(off[at : at + 25])) - mean_of(cents, steady, at) for at in firsts)
        table[name] = {
            "frame_rms_cents": round(float(np.sqrt(np.mean(np.square(frames)))), 3),
            "frame_p95_cents": round(float(np.quantile(np.abs(frames), 0.95)), 3),
            "mean_over_1_s_cents": round(float(np.quantile(np.abs(means), 0.95)), 3),
        }
    return table


def mean_of(cents: np.ndarray, steady: list[Any], first: int) -> float:
    """The true mean at the moments of 25 readings: what a part of a cycle leaves is no error of the ear's."""
    return float(np.mean(cents[[one.at for one in steady[first : first + 25]]]))


def held(trials: int = 20, snr: float = 20.0) -> dict[str, dict[str, float]]:
    """Steady tones held for 1.4 s: readings from 0.4 s on, against the bound of the ear's longest window; their median.

    The median over a second is what is written of a note that was held.
    """
    table = {}
    for number, (band, (low, high)) in enumerate(BANDS.items()):
        rng = np.random.default_rng(700 + number)
        count = int(1.4 * RATE)
        frames: list[float] = []
        scaled: list[float] = []
        notes: list[float] = []
        for _ in range(trials):
            one = tone(float(np.exp(rng.uniform(np.log(low), np.log(high)))), count, snr, rng, before=before_of(count))
            told = [heard for _, heard in stream(one.stream) if heard.at > len(one.before) + 0.4 * RATE]
            cents = np.array([1200 * np.log2(heard.hz / one.hz) for heard in told if heard.hz is not None])
            frames.extend(np.abs(cents))
            scaled.extend(cents / (one.bound * (count / (FACTOR * LENGTHS[-1])) ** 1.5))
            notes.append(abs(float(np.median(cents))))
        table[band] = {
            "frame_median_cents": round(float(np.median(frames)), 4),
            "frame_p99_cents": round(float(np.quantile(frames, 0.99)), 4),
            "to_bound": round(float(np.sqrt(np.mean(np.square(scaled)))), 3),
            "note_median_cents": round(float(np.median(notes)), 4),
            "note_most_cents": round(max(notes), 4),
        }
    return table


def figures() -> dict[str, dict[str, Any]]:
    """All tables of the stream."""
    return {"onset": delays(), "held": held(), "vibrato": vibrato(), "sections": sections(), "one player": one_player()}
