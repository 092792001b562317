"""Watches the sound in the room: A-weighted level, hum of the mains, and a gain that seems to follow the level."""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.hearing.exposure import FLOOR_DB, SoundMeter
from firmware.hearing.gain_watch import GainWatch
from firmware.hearing.hum import HumWatch
from firmware.room_events import SoundRead
from firmware.units import RATE, Samples

BATCH: Final = 2048
"""Samples for the box to gather: small blocks cost three times as much, and 43 ms hurt nobody."""


class SoundWatch:
    """Tells of the sound at the microphone twice a second.

    Parameters
    ----------
    rate : int
        Samples per second.
    batch : int
        Samples that are gathered before they are worked on; what is left at the end stays unread.
    """

    def __init__(self, rate: int = RATE, *, batch: int = 1) -> None:
        self._batch = batch
        self._meter = SoundMeter(rate)
        self._hum = HumWatch(rate)
        self._gain = GainWatch(rate)
        self._waiting: list[tuple[Samples, Samples]] = []
        self._held = 0

    def process(self, mic: Samples, own: Samples) -> tuple[SoundRead, ...]:
        """Take in a block of the microphone as the card gives it, before any gain, and what the box played, shape (n,).

        Levels are dB re full scale; what is no number counts as 0.
        """
        self._waiting.append((mic, own))
        self._held += len(mic)
        if self._held < self._batch:
            return ()
        mic, own = (np.concatenate(parts) for parts in zip(*self._waiting, strict=True))
        self._waiting.clear()
        self._held = 0
        return self._told(mic, own)

    def _told(self, mic: Samples, own: Samples) -> tuple[SoundRead, ...]:
        spans = self._meter.process(mic)
        self._hum.process(mic, own)
        self._gain.process(mic, own)
        hum = self._hum.hum
        return tuple(
            SoundRead(
                span.at,
                span.seconds,
                span.mean_db,
                span.fast_db,
                span.slow_db,
                hum.mains_hz if hum is not None else 0.0,
                hum.level_db if hum is not None else FLOOR_DB,
                self._gain.rides,
            )
            for span in spans
        )
