"""Each take is measured by itself, with its last chunk."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.takes.recorder import Chunk
from firmware.units import RATE
from hardware.take_loudness import TakeLoudness


def test_takes_are_measured_apart_and_told_at_their_end() -> None:
    tone = np.sin(2 * np.pi * 997.0 * np.arange(RATE) / RATE).astype(np.float32)
    meter = TakeLoudness()
    assert meter.hear(Chunk(1, 0, tone)) is None
    assert meter.hear(Chunk(2, 0, 0.1 * tone)) is None
    first = meter.hear(Chunk(1, RATE, np.zeros(0, np.float32), last=True))
    second = meter.hear(Chunk(2, RATE, 0.1 * tone, last=True))
    assert first is not None
    assert second is not None
    assert (first.at, first.number, first.lufs) == (RATE, 1, pytest.approx(-3.01, abs=0.05))
    assert (second.at, second.number, second.lufs) == (2 * RATE, 2, pytest.approx(-23.01, abs=0.05))
    assert second.peak == pytest.approx(0.1, rel=0.01)


def test_with_the_own_sound_beside_the_microphone_counts() -> None:
    tone = np.sin(2 * np.pi * 997.0 * np.arange(RATE) / RATE).astype(np.float32)
    told = TakeLoudness().hear(Chunk(1, 0, np.stack([0.1 * tone, tone], axis=1), last=True))
    assert told is not None
    assert told.lufs == pytest.approx(-23.01, abs=0.05)
