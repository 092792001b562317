"""Microphone level for the meter on the screen."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from firmware.heard_events import LevelRead
from firmware.units import RATE, Samples, db_of

FULL_SCALE: Final = 0.999
"""A 16-bit card's largest positive sample is 0.99997; anything this close has touched the end."""

FLOOR_DB: Final = -120.0


class LevelMeter:
    """Peak and RMS of every tenth of a second.

    Parameters
    ----------
    rate : int
        Samples per second.
    """

    def __init__(self, rate: int = RATE) -> None:
        self._span = rate // 10
        self._done = 0
        self._count = 0
        self._peak = 0.0
        self._energy = 0.0

    def process(self, mic: Samples) -> tuple[LevelRead, ...]:
        """Measure a block, shape (n,); one event for every tenth of a second that it completes.

        Levels are dB re full scale (a full-scale sine has RMS -3.01 dB), never under -120. Samples that are not
        numbers count as full scale: something is wrong and the clip mark says so.
        """
        size = np.abs(np.nan_to_num(np.asarray(mic, dtype=np.float64), nan=1.0, posinf=1.0, neginf=-1.0))
        events: list[LevelRead] = []
        start = 0
        while start < len(size):
            part = size[start : start + self._span - self._count]
            start += len(part)
            self._add(part)
            if self._count == self._span:
                events.append(self._close())
        return tuple(events)

    def _add(self, part: np.ndarray[tuple[int], np.dtype[np.float64]]) -> None:
        self._count += len(part)
        self._done += len(part)
        self._peak = max(self._peak, float(part.max(initial=0.0)))
        self._energy += float(part @ part)

    def _close(self) -> LevelRead:
        rms = math.sqrt(self._energy / self._span)
        event = LevelRead(
            self._done, max(FLOOR_DB, db_of(self._peak)), max(FLOOR_DB, db_of(rms)), self._peak >= FULL_SCALE
        )
        self._count, self._peak, self._energy = 0, 0.0, 0.0
        return event
