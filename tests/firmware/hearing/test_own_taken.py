"""How much was taken out close to a frequency."""

from __future__ import annotations

import numpy as np
import pytest

from firmware.hearing.own_taken import HOPS, Taken

RATE, HOP = 12_000.0, 480


def test_a_line_has_its_power_and_nothing_lies_elsewhere() -> None:
    taken = Taken(RATE, HOP)
    sound = 0.2 * np.sin(2 * np.pi * 440.0 * np.arange(HOPS * HOP) / RATE)
    for i in range(0, len(sound), HOP):
        taken.add(sound[i : i + HOP])
    at, beside, far, above = taken.near(np.array([440.0, 446.0, 880.0, 9000.0]), 6.5)
    assert at == pytest.approx(0.02, rel=0.03)
    assert beside == pytest.approx(0.02, rel=0.2)
    assert far < 1e-6
    assert above == 0.0


def test_only_the_last_window_counts() -> None:
    taken = Taken(RATE, HOP)
    taken.add(np.sin(np.arange(HOP)))
    loud = taken.near(np.array([RATE / (2 * np.pi)]), 6.5)[0]
    for _ in range(HOPS):
        taken.add(np.zeros(HOP))
    assert loud > 0.01
    assert taken.near(np.array([RATE / (2 * np.pi)]), 6.5)[0] == 0.0
