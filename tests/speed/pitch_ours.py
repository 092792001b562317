"""Our readers for the pitch figures: one stretch of sound by itself, and the ear as a stream."""

from __future__ import annotations

import math
import time
from typing import Any

import numpy as np

from firmware.heard_events import Heard
from firmware.hearing.ear import FACTOR, Ear
from firmware.hearing.filters import Decimator, Fir, whitener
from firmware.hearing.full_band import sharpened
from firmware.hearing.pitch import LENGTHS, read_pitch
from firmware.units import RATE

PIECE = 96
"""Samples that the ear is given at a time: 2 ms, so that its own delay is seen."""


def by_window(sound: np.ndarray) -> float:
    """Pitch of a stretch of 43, 85 or 171 ms in Hz, NaN if there is none to read; nothing is known from before it."""
    slow = Fir(whitener()).process(Decimator(FACTOR).process(sound))
    # What the filters give first is made of the silence before the stretch.
    length = max(length for length in LENGTHS if length <= len(slow) - len(whitener()) // 4)
    pitch = read_pitch(slow[-length:], RATE / FACTOR, longest=length)
    return sharpened(pitch, sound, RATE).hz if pitch is not None else math.nan


def by_stretch(sound: np.ndarray) -> float:
    """Pitch at the end of a long stretch, the filters filled from its beginning."""
    slow = Fir(whitener()).process(Decimator(FACTOR).process(sound[-4 * LENGTHS[-1] - 1024 :]))
    pitch = read_pitch(slow[-LENGTHS[-1] :], RATE / FACTOR)
    return pitch.hz if pitch is not None else math.nan


def read_all(sounds: np.ndarray) -> dict[str, Any]:
    """Hz of each stretch, and milliseconds of processor time a reading."""
    found: list[float | None] = []
    times: list[float] = []
    for sound in sounds:
        begin = time.process_time()
        hz = by_window(sound)
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
