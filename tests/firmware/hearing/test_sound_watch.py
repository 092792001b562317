"""The watch tells level, hum and gain together, twice a second."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.sound_watch import SoundWatch
from firmware.units import RATE


def test_gathered_blocks_are_read_alike() -> None:
    mic = np.random.default_rng(1).standard_normal(2 * RATE).astype(np.float32) * np.float32(0.1)
    own = np.zeros_like(mic)
    each, gathered = SoundWatch(), SoundWatch(batch=2048)
    first, second = [], []
    for start in range(0, len(mic), 512):
        first += each.process(mic[start : start + 512], own[start : start + 512])
        second += gathered.process(mic[start : start + 512], own[start : start + 512])
    assert len(second) == 3
    for one, other in zip(first, second, strict=False):
        assert one.at == other.at
        assert other.slow_db == pytest.approx(one.slow_db, abs=1e-6)


def test_level_and_hum_come_together() -> None:
    time = np.arange(9 * RATE) / RATE
    mic = (0.1 * np.sin(2 * np.pi * 1000 * time)).astype(np.float32)
    hum = 0.01 * (np.sin(2 * np.pi * 50 * time) + np.sin(2 * np.pi * 150 * time))
    watch, reads = SoundWatch(), []
    for start in range(0, len(mic), 512):
        block = (mic + hum)[start : start + 512].astype(np.float32)
        reads += watch.process(block, np.zeros(len(block), np.float32))
    assert len(reads) == 18
    assert reads[-1].mean_db == pytest.approx(-23.01, abs=0.05)
    assert (reads[0].hum_hz, reads[-1].hum_hz) == (0.0, 50.0)
    assert not reads[-1].rides
