"""Measures each take while it is recorded, so that it can be replayed at the right level at once."""

from __future__ import annotations

from firmware.hearing.loudness import Loudness
from firmware.take_events import TakeMeasured
from firmware.takes.recorder import Chunk


class TakeLoudness:
    """Listens to the chunks of the recorder; takes may overlap."""

    def __init__(self) -> None:
        self._running: dict[int, Loudness] = {}

    def hear(self, chunk: Chunk) -> TakeMeasured | None:
        """Take in a chunk; its take's loudness when it was the last."""
        meter = self._running.get(chunk.number)
        if meter is None:
            meter = self._running[chunk.number] = Loudness()
        # With the own sound beside it, the microphone is the first channel.
        meter.process(chunk.samples if chunk.samples.ndim == 1 else chunk.samples[:, 0])
        if not chunk.last:
            return None
        del self._running[chunk.number]
        return TakeMeasured(chunk.end, chunk.number, meter.integrated, meter.peak)
