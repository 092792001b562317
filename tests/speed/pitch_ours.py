"""Our readers for the pitch figures: the ear as the box runs it on a stream, and one stretch of sound by itself."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from firmware.heard_events import Heard
from firmware.hearing.ear import FACTOR, Ear
from firmware.hearing.filters import Decimator, Fir, whitener
from firmware.hearing.full_band import TAPS, sharpened
from firmware.hearing.full_band import whitened as whitened_full
from firmware.hearing.pitch import LENGTHS, read_pitch
from firmware.hearing.pitch_settled import settled
from firmware.units import BLOCK, RATE

PIECE = 96
"""Samples that the ear is given at a time: 2 ms, so that its own delay is seen."""

MORE = 512
"""Samples that are put before and after a stretch."""

FILLED = 24
"""Samples at the lower rate that the filters need to be filled where no pitch is known yet."""

SHORTEST = 450
"""The shortest window to read in, at the lower rate."""


def held_on(sound: np.ndarray, before: int, after: int, hz: float | None = None) -> np.ndarray:
    """A stretch that goes on for some samples at both ends: by the periods of its pitch, else by its outermost samples.

    So that no filter sees it begin or end.
    """
    time = np.arange(-before, len(sound) + after)
    last = len(sound) - 1
    inside: np.ndarray = np.clip(time, 0, last).astype(float)
    if hz is not None:
        period = RATE / hz
        turns = np.ceil(np.maximum(-time, 0) / period) - np.ceil(np.maximum(time - last, 0) / period)
        inside = time + turns * period
    return np.interp(inside, np.arange(len(sound)), sound)


def whitened(sound: np.ndarray, hz: float | None = None) -> np.ndarray:
    """A stretch decimated and whitened."""
    decimator = Decimator(FACTOR)
    slow = Fir(whitener()).process(decimator.process(held_on(sound, MORE, MORE, hz)))
    first = (MORE + decimator.delay) // FACTOR
    return slow[first : first + len(sound) // FACTOR]


def by_window(sound: np.ndarray) -> float:
    """Pitch of a stretch of 43, 85 or 171 ms in Hz, NaN if there is none to read; nothing is known from before it.

    First read as the ear reads, then in the stretch as a whole, and with the partials over 5 kHz.
    """
    slow = whitened(sound)[FILLED:]
    lengths = [len(slow)]
    while lengths[0] >= 2 * SHORTEST:
        lengths.insert(0, lengths[0] // 2)
    pitch = read_pitch(slow, RATE / FACTOR, longest=len(slow), lengths=tuple(lengths))
    if pitch is None:
        return math.nan
    whole = settled(pitch, whitened(sound, pitch.hz), RATE / FACTOR)
    return sharpened(whole, whitened_full(held_on(sound, TAPS - 1, 0, pitch.hz)), RATE).hz


def by_box(sound: np.ndarray) -> float:
    """Hz that the ear told last of a stream, NaN if that there is nothing to read."""
    told = last_told(sound)
    return told.hz if told is not None and told.hz is not None else math.nan


def last_told(sound: np.ndarray) -> Heard | None:
    """What the ear told last of a stream in blocks as the box gives them."""
    ear, near, own = Ear(), sound.astype(np.float32), np.zeros(BLOCK, np.float32)
    told: list[Heard] = []
    for first in range(0, len(near), BLOCK):
        block = near[first : first + BLOCK]
        told.extend(ear.process(block, own[: len(block)]))
    return told[-1] if told else None


def by_stretch(sound: np.ndarray) -> float:
    """Pitch at the end of a long stretch, the filters filled from its beginning."""
    slow = Fir(whitener()).process(Decimator(FACTOR).process(sound[-4 * LENGTHS[-1] - 1024 :]))
    pitch = read_pitch(slow[-LENGTHS[-1] :], RATE / FACTOR)
    return pitch.hz if pitch is not None else math.nan


def read_all(sounds: Sequence[np.ndarray], read: Callable[[np.ndarray], float] = by_window) -> dict[str, Any]:
    """Hz of each stretch or stream, and milliseconds of processor time for each."""
    found: list[float | None] = []
    times: list[float] = []
    for sound in sounds:
        begin = time.process_time()
        hz = read(sound)
        times.append(1000 * (time.process_time() - begin))
        found.append(hz if math.isfinite(hz) else None)
    return {"hz": found, "ms": float(np.median(times))}


def stream(mic: np.ndarray) -> list[tuple[int, Heard]]:
    """Readings of the ear with nothing of ours sounding, each with the sample count at which it was told."""
    ear, near = Ear(), mic.astype(np.float32)
    own = np.zeros(PIECE, np.float32)
    readings: list[tuple[int, Heard]] = []
    for first in range(0, len(near) - PIECE + 1, PIECE):
        readings += [(first + PIECE, one) for one in ear.process(near[first : first + PIECE], own)]
    return readings
