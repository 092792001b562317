"""The watch tells level, hum and gain together, twice a second."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.sound_watch import SoundWatch
from firmware.units import RATE


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
