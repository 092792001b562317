"""The test sound, and what a recording of it tells: level, delay, noise, hum, distortion, clocks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final

import numpy as np

from firmware.hearing.exposure import FLOOR_DB, level_of
from firmware.hearing.filters import Signal, numbers
from firmware.hearing.hum import Hum, find_hum
from firmware.hearing.room import Room
from firmware.hearing.room_check import RoomCheckError, learn_room
from firmware.hearing.weighting import a_weighting
from firmware.sound.sweep import REPEATS, sweep
from firmware.units import RATE, Samples, db_of, gain_of, samples_of

QUIET_SECONDS: Final = 1.2
TAIL_SECONDS: Final = 1.6
TONE_SECONDS: Final = 0.6
TONE_HZ: Final = 1000.0

SWEEP_DB: Final = -18.0
TONES_DB: Final = (-36.0, -24.0)
"""Two tones of different level: what an automatic gain makes alike."""

SETTLED: Final = 0.25
"""Seconds into a tone before its level is read."""

STRETCH: Final = samples_of(0.2)
LINE_BINS: Final = 8
"""Half the width of a line in the spectrum of a stretch: its window's main lobe, four times padded."""

ONE_LINE: Final = 0.8
"""A stretch holds the tone when this share of its power lies on one line."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What a recording of the test sound tells.

    Parameters
    ----------
    peak : float
        Greatest size of a sample, 1 is full scale.
    offset : float
        Mean of the signal in silence.
    floor_db : float
        A-weighted level in silence, dB re full scale.
    hum : Hum or None
        Hum of the mains in that silence.
    room : Room or None
        The way from loudspeaker to microphone; None if the sweep was not heard.
    tone_hz : float
        Frequency at which the tone came back; 0 if none stands out.
    rise_db : float or None
        By how much the second tone came back louder than the first; None if the first is too near the noise.
    """

    peak: float
    offset: float
    floor_db: float
    hum: Hum | None
    room: Room | None
    tone_hz: float
    rise_db: float | None


@lru_cache(maxsize=1)
def played() -> Samples:
    """Silence, two sweeps, silence, a soft and a louder tone, silence; float32, read-only."""
    sweeps = np.tile(sweep(RATE), REPEATS) * np.float32(gain_of(SWEEP_DB))
    parts = [_silence(QUIET_SECONDS), sweeps, _silence(TAIL_SECONDS)]
    parts += [tone(TONE_SECONDS, level) for level in TONES_DB]
    sound: Samples = np.concatenate([*parts, _silence(TONE_SECONDS)]).astype(np.float32)
    sound.flags.writeable = False
    return sound


def tone(seconds: float, level_db: float) -> Samples:
    """A tone of 1 kHz with soft ends, its peak at a level."""
    count = samples_of(seconds)
    ramp = np.minimum(1.0, np.minimum(np.arange(count), np.arange(count)[::-1]) / samples_of(0.02))
    sound = gain_of(level_db) * ramp * np.sin(2 * np.pi * TONE_HZ * np.arange(count) / RATE)
    return np.asarray(sound, dtype=np.float32)


def _silence(seconds: float) -> Samples:
    return np.zeros(samples_of(seconds), dtype=np.float32)


def hear_test(mic: Samples, own: Samples) -> Heard:
    """Read a recording.

    Parameters
    ----------
    mic : array of shape (n,)
        What the microphone heard, from the first sample of the test sound on.
    own : array of shape (m,)
        What was played: `played`, maybe with silence after it.
    """
    sound = numbers(np.nan_to_num(np.asarray(mic, dtype=np.float32)))
    first_tone = samples_of(QUIET_SECONDS + REPEATS * 1.5 + TAIL_SECONDS)
    quiet = sound[samples_of(0.05) : samples_of(QUIET_SECONDS)]
    room = _room(sound[:first_tone], own[:first_tone])
    delay = round(room.delay) if room is not None else 0
    return Heard(
        peak=float(np.abs(sound).max(initial=0.0)),
        offset=float(np.mean(quiet)) if len(quiet) else 0.0,
        floor_db=_floor(quiet),
        hum=find_hum(quiet - quiet.mean(), RATE) if len(quiet) >= RATE else None,
        room=room,
        tone_hz=_tone_hz(sound[samples_of(QUIET_SECONDS / 2) :]),
        rise_db=_rise(sound[first_tone + delay :], quiet) if room is not None else None,
    )


def _room(mic: Signal, own: Samples) -> Room | None:
    try:
        return learn_room(mic.astype(np.float32), own, RATE)
    except RoomCheckError:
        return None


def _floor(quiet: Signal) -> float:
    if len(quiet) < RATE // 2:
        return FLOOR_DB
    weighted = a_weighting(RATE).process(quiet - quiet.mean())[samples_of(0.1) :]
    return level_of(float(np.mean(weighted**2)))


def _tone_hz(heard: Signal) -> float:
    """Frequency of the steady tone in a recording; 0 if there is none.

    A stretch holds the tone when nearly all its power from 200 Hz to 7 kHz lies on one line, and the next stretch has
    the same line: the sweep does not keep still, and noise has no line. With another rate the tone also comes at
    another time, hence the search.
    """
    lines = [_line(heard[begin : begin + STRETCH]) for begin in range(0, len(heard) - STRETCH, STRETCH // 2)]
    best, loudest = 0.0, 0.0
    for (hz, power), (other, _) in pairwise(lines):
        if hz and abs(hz - other) < 0.002 * hz and power > loudest:
            best, loudest = hz, power
    return best


def _line(stretch: Signal) -> tuple[float, float]:
    """The line that holds a stretch, and its power; 0 and 0 if none does."""
    size = 4 * STRETCH
    power = np.abs(np.fft.rfft(stretch * np.hanning(STRETCH), size)) ** 2
    low, high = round(200 * size / RATE), round(7000 * size / RATE)
    top = low + int(np.argmax(power[low:high]))
    held = float(power[top - LINE_BINS : top + LINE_BINS + 1].sum())
    if held <= 0 or held < ONE_LINE * float(power[low:high].sum()):
        return 0.0, 0.0
    return top * RATE / size, held


def _rise(heard: Signal, quiet: Signal) -> float | None:
    """Level of the second tone against the first, in dB; the tones begin with the stretch."""
    levels = []
    for number in range(2):
        begin = samples_of(number * TONE_SECONDS + SETTLED)
        levels.append(_level_at_tone(heard[begin : samples_of((number + 1) * TONE_SECONDS - 0.05)]))
    noise = _level_at_tone(quiet[: samples_of(TONE_SECONDS - SETTLED - 0.05)])
    if min(levels) <= 0 or db_of(levels[0]) < db_of(max(noise, 1e-9)) + 12.0:
        return None
    return db_of(levels[1]) - db_of(levels[0])


def _level_at_tone(stretch: Signal) -> float:
    """Amplitude at the tone's frequency."""
    if not len(stretch):
        return 0.0
    window = np.hanning(len(stretch))
    turn = np.exp(-2j * np.pi * TONE_HZ * np.arange(len(stretch)) / RATE)
    return float(2 * np.abs(np.sum(stretch * window * turn)) / np.sum(window))
