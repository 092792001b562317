"""Onsets only while they are wanted, at their place in the whole stream."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.events import Onset
from firmware.hearing.onsets_gate import OnsetsWhile
from firmware.units import RATE

BLOCK = 480


def stream(seconds: int) -> np.ndarray:
    """A stroke every half second, the first after a quarter."""
    sound = 1e-4 * np.random.default_rng(1).standard_normal(seconds * RATE)
    stroke = 0.3 * np.cos(2 * np.pi * 900 * np.arange(4800) / RATE) * np.exp(-np.arange(4800) / 900)
    for at in range(RATE // 4, seconds * RATE - 4800, RATE // 2):
        sound[at : at + 4800] += stroke
    return sound.astype(np.float32)


def test_it_hears_while_wanted_and_a_little_longer():
    mic, now, found = stream(8), 0, list[Onset]()
    gate = OnsetsWhile(lambda: 2 * RATE <= now < 4 * RATE, latency=96)
    for now in range(0, len(mic), BLOCK):
        found += gate.process(mic[now : now + BLOCK], np.zeros(BLOCK, np.float32))
    times = [onset.at / RATE for onset in found]
    assert times[:4] == pytest.approx([2.25, 2.75, 3.25, 3.75], abs=0.0005)
    assert times[-1] < 5.0
    assert {onset.late for onset in found} == {96}


def test_when_wanted_again_it_begins_anew_and_knows_the_place():
    mic, now, found = stream(9), 0, list[Onset]()
    gate = OnsetsWhile(lambda: now < RATE or 6 * RATE <= now < 7 * RATE, latency=0)
    for now in range(0, len(mic), BLOCK):
        found += gate.process(mic[now : now + BLOCK], np.zeros(BLOCK, np.float32))
    times = [onset.at / RATE for onset in found]
    assert [time for time in times if 2.1 < time < 6.0] == []
    assert [time for time in times if time > 6.0][:2] == pytest.approx([6.25, 6.75], abs=0.0005)


def test_when_never_wanted_it_hears_nothing():
    gate = OnsetsWhile(lambda: False, latency=0)
    assert gate.process(stream(1), np.zeros(RATE, np.float32)) == ()
