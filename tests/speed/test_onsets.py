"""Hearing onsets costs little, and the figures that were kept are those that were to be reached."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from firmware.units import RATE
from tests.speed.onset_scenes import INSTRUMENTS, STROKES, sampled, scene, strokes
from tests.speed.onsets import SEEDS, ours

RESULTS = Path(__file__).parent / "results" / "onsets.json"


def test_onsets_cost_little():
    notes = strokes(np.random.default_rng(1))
    costs = [ours(scene(notes, seed, click=True, beats=24))[1] for seed in range(3)]
    assert 100 * min(costs) <= 1.5


def matched(truth: np.ndarray, found: np.ndarray) -> np.ndarray:
    """Errors in ms of the onsets within 50 ms of a true one, each used once; the notes lie further apart than that."""
    errors, left = [], list(np.sort(found))
    for at in np.sort(truth):
        near = min(left, key=lambda one: abs(one - at), default=np.inf)
        if abs(near - at) <= 0.05:
            left.remove(near)
            errors.append(1000 * (near - at))
    return np.array(errors)


@pytest.mark.parametrize("kind", [STROKES, *INSTRUMENTS])
def test_onsets_beside_the_click_are_found_as_the_kept_figures_say(kind: str):
    notes = strokes(np.random.default_rng(1)) if kind == STROKES else sampled(kind)
    errors, true, told = np.zeros(0), 0, 0
    for seed in SEEDS:
        one = scene(notes, seed, click=True)
        found, _ = ours(one)
        true, told = true + len(one.truth), told + len(found)
        errors = np.append(errors, np.abs(matched(one.truth / RATE, found)))
    mine = kept(kind)["ours"]
    assert 2 * len(errors) / (true + told) == pytest.approx(mine["f_measure"], abs=0.002)
    assert np.median(errors) == pytest.approx(mine["median_ms"], abs=0.05)
    assert np.percentile(errors, 95) == pytest.approx(mine["p95_ms"], abs=0.5)


def kept(kind: str) -> dict[str, dict[str, float]]:
    """Figures of one kind of notes beside the click, by finder."""
    table: dict[str, dict[str, dict[str, float]]] = json.loads(RESULTS.read_text(encoding="utf-8"))["table"]
    return table[f"{kind} with click"]


@pytest.mark.parametrize("kind", [STROKES, *INSTRUMENTS])
def test_kept_figures_are_ahead_and_within_their_limits(kind: str):
    row = kept(kind)
    mine = row.pop("ours")
    median, late = (0.5, 2.0) if kind == STROKES else (3.0, 10.0)
    assert mine["f_measure"] >= 0.97
    assert mine["f_measure"] > max(peer["f_measure"] for peer in row.values())
    assert mine["median_ms"] <= median
    assert mine["p95_ms"] <= late


@pytest.mark.parametrize("kind", [STROKES, *INSTRUMENTS])
def test_over_a_drone_ours_is_well_ahead_of_the_others(kind: str):
    table: dict[str, dict[str, dict[str, float]]] = json.loads(RESULTS.read_text(encoding="utf-8"))["table"]
    row = table[f"{kind} with click and drone"]
    mine = row.pop("ours")
    assert mine["f_measure"] > max(peer["f_measure"] for peer in row.values()) + 0.05
