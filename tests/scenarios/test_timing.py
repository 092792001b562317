"""The whole box: players to its own click, which is in the microphone too, are timed in log, table and sheet."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from firmware.events import KeyDown, KeyUp, PanelKey
from firmware.parts.part import Start
from firmware.settings import DEFAULTS
from firmware.sound.engine import Engine
from firmware.units import BLOCK, RATE
from hardware.desk import offline_box
from hardware.drivers.stick import FolderStick
from hardware.loop import OfflineLoop
from hardware.simulated.screen import SimulatedScreen

TEMPO = 100.0
BEAT = 60.0 / TEMPO
WAY = BLOCK + 1500
"""Samples from loudspeaker to microphone: the loop's own block and the rest of the way."""
PLAYED = range(8, 32)
OFF = np.random.default_rng(4).normal(0.015, 0.008, len(PLAYED))


def tap(loop: OfflineLoop, key: PanelKey) -> None:
    loop.post(KeyDown(loop.now, key))
    loop.post(KeyUp(loop.now, key))


def rehearse(root: Path) -> Path:
    """Two bars of listening, six bars of playing some 15 ms late, then the pulse stops."""
    values = DEFAULTS.put("tempo", TEMPO).put("pulse_level", -12.0)
    loop = offline_box(FolderStick(root / "KEELNOTE"), SimulatedScreen(), Start(values=values, stick=True))
    begin = 20 * BLOCK
    blocks = round((33 * BEAT + 3.0) * RATE / BLOCK)
    players = 3e-4 * np.random.default_rng(5).standard_normal(blocks * BLOCK + RATE)
    time = np.arange(RATE // 4) / RATE
    stroke = 0.2 * np.cos(2 * np.pi * 523.0 * time) * np.exp(-time / 0.05)
    for beat, off in zip(PLAYED, OFF, strict=True):
        at = begin + round((beat * BEAT + off) * RATE) + Engine().latency + WAY
        players[at : at + len(stroke)] += stroke
    heard = np.zeros(blocks * BLOCK + WAY + BLOCK)
    for number in range(blocks):
        at = number * BLOCK
        if at in (begin, begin + round(32.4 * BEAT * RATE) // BLOCK * BLOCK):
            tap(loop, PanelKey.PULSE)
        mic = (players[at : at + BLOCK] + heard[at : at + BLOCK]).astype(np.float32)
        heard[at + WAY : at + WAY + BLOCK] += loop.block(mic)
    loop.finish()
    return root / "KEELNOTE/rehearsals/0001"


def test_players_are_timed_against_the_click_that_they_hear(tmp_path: Path):
    folder = rehearse(tmp_path)
    log = [json.loads(line) for line in (folder / "log.jsonl").read_text(encoding="utf-8").splitlines()]
    (whole,) = [line for line in log if line["what"] == "timing"]
    # The microphone hears the click by this way; players who hear it there and then are late by what is over it.
    assert whole["median_ms"] == pytest.approx(1000 * np.median(OFF), abs=1.0)
    assert whole["spread_ms"] == pytest.approx(8.0, abs=4.0)
    assert abs(whole["drift_percent"]) < 0.15
    assert (whole["first_bar"], whole["last_bar"], whole["count"]) == (3, 8, 24)
    bars = [line["bar"] for line in log if line["what"] == "bar"]
    assert bars == [3, 4, 5, 6, 7, 8]
    with (folder / "timing.csv").open(encoding="utf-8", newline="") as file:
        late = [float(row["late_ms"]) for row in csv.DictReader(file)]
    np.testing.assert_allclose(late, 1000 * OFF, atol=1.5)
    assert "Timing against the pulse" in (folder / "sheet.html").read_text(encoding="utf-8")
