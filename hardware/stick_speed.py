"""How fast a stick takes what a take would bring, measured by writing one."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from statistics import median
from typing import Final

import numpy as np

from firmware.errors import DeviceError, KeelnoteError
from firmware.ports import Stick
from firmware.selftest.signals import StickMeasured
from firmware.units import RATE

PATH: Final = "selftest-speed.flac"
PIECES: Final = 12
PIECE_SECONDS: Final = 0.5
CHANNELS: Final = 2
BYTES: Final = 3
"""Of a sample: noise of 24 bits can't be packed any smaller."""

FULL_SCALE_SHARE: Final = 0.5


def measure_stick(stick: Stick, clock: Callable[[], float], at: int) -> StickMeasured:
    """Write a file of stereo noise, make each piece safe, delete it, and say how long that took.

    Parameters
    ----------
    stick : Stick
        Is left as it was.
    clock : function
        Seconds.
    at : int
        Sample count for the event.
    """
    trouble = stick.trouble()
    if trouble and trouble not in {"stick-two", "stick-odd"}:
        return StickMeasured(at, trouble)
    free = stick.free_bytes()
    noise = np.random.default_rng(1).uniform(
        -FULL_SCALE_SHARE, FULL_SCALE_SHARE, (round(RATE * PIECE_SECONDS), CHANNELS)
    )
    piece = noise.astype(np.float32)
    seconds: list[float] = []
    try:
        with contextlib.suppress(KeelnoteError):
            stick.remove(PATH)
        take = stick.open_take(PATH, CHANNELS)
        try:
            for _ in range(PIECES):
                before = clock()
                take.write(piece)
                take.sync()
                seconds.append(clock() - before)
        finally:
            take.close()
        stick.remove(PATH)
    except DeviceError as error:
        return StickMeasured(at, error.message, free)
    # The median: one stall says nothing of the speed, it is told by itself.
    return StickMeasured(at, "", free, piece.size * BYTES / max(median(seconds), 1e-6), max(seconds))
