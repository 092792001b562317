"""A room check on the whole box: a turn of the knob on the room page, in a room with an echo, noise and hum."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from firmware.events import KeyDown, KeyUp, KnobDown, KnobTurn, KnobUp, PanelKey
from firmware.parts.part import Start
from firmware.screens.pages import PAGES
from firmware.units import BLOCK, RATE, Samples, gain_of, samples_of
from hardware.desk import offline_box
from hardware.drivers.stick import FolderStick
from hardware.loop import OfflineLoop
from hardware.simulated.convolver import Convolver
from hardware.simulated.room import NOISE_SAMPLES, pink_noise, response
from hardware.simulated.screen import SimulatedScreen

SECONDS = 18.0
FIELDS_DOWN = 5
"""Pushes from the first field of the room page to the room check."""


class Room:
    """Loudspeaker, air and microphone, one block late, with a hum of 50 Hz."""

    def __init__(self) -> None:
        generator = np.random.default_rng(8)
        taps = response(0.7, 1000, -3.0, generator) * np.float32(gain_of(-12.0))
        self._convolver = Convolver(taps[None, :], BLOCK)
        self._noise = pink_noise(NOISE_SAMPLES, -64.0, generator)
        time = np.arange(samples_of(SECONDS) + BLOCK) / RATE
        hum = np.sin(2 * np.pi * 50 * time) + np.sin(2 * np.pi * 100 * time) + np.sin(2 * np.pi * 150 * time)
        self._hum = (hum * 0.002).astype(np.float32)

    def block(self, speaker: Samples, at: int) -> Samples:
        """What the microphone hears from sample `at` on, of what was played in the block before."""
        noise = self._noise[np.arange(at, at + BLOCK) % NOISE_SAMPLES]
        return self._convolver.process(speaker[None, :]) + noise + self._hum[at : at + BLOCK]


def open_room_check(loop: OfflineLoop) -> None:
    """Go to the room page, to its last field, and turn it."""
    loop.post(KnobDown(loop.now))
    loop.post(KnobTurn(loop.now, [page.name for page in PAGES].index("room")))
    loop.post(KnobUp(loop.now))
    for _ in range(FIELDS_DOWN):
        loop.post(KnobDown(loop.now))
        loop.post(KnobUp(loop.now))
    loop.post(KnobTurn(loop.now, 1))


@pytest.fixture(scope="module")
def rehearsal(tmp_path_factory: pytest.TempPathFactory) -> tuple[OfflineLoop, Path, Samples]:
    """A drone for a second, then the room check; all that was played."""
    root = tmp_path_factory.mktemp("room")
    loop = offline_box(FolderStick(root / "KEELNOTE"), SimulatedScreen(), Start(stick=True))
    room, speaker, played = Room(), np.zeros(BLOCK, np.float32), []
    loop.post(KeyDown(0, PanelKey.DRONE))
    loop.post(KeyUp(0, PanelKey.DRONE))
    asked = False
    while loop.now < samples_of(SECONDS):
        if not asked and loop.now >= RATE:
            open_room_check(loop)
            asked = True
        speaker = loop.block(room.block(speaker, loop.now))
        played.append(speaker)
    loop.finish()
    return loop, root / "KEELNOTE", np.concatenate(played)


def log_of(stick: Path, what: str) -> list[dict[str, object]]:
    (log,) = stick.glob("rehearsals/*/log.jsonl")
    lines = map(json.loads, log.read_text(encoding="utf-8").splitlines())
    return [line for line in lines if line["what"] == what]


def test_the_box_knows_its_room(rehearsal: tuple[OfflineLoop, Path, Samples]) -> None:
    loop, stick, _ = rehearsal
    found = loop.box.state_of("room").found
    # Own sound of sample n is heard one block and 1000 samples later.
    assert found.delay_ms == pytest.approx((BLOCK + 1000) / 48.0, abs=0.05)
    assert found.rt60_s == pytest.approx(0.7, rel=0.12)
    assert found.removal_db > 35.0
    assert found.hum_hz == 50.0
    (line,) = log_of(stick, "room")
    assert line["delay_ms"] == pytest.approx(found.delay_ms, abs=1e-3)


def test_only_the_test_signal_sounds_and_the_drone_comes_back(rehearsal: tuple[OfflineLoop, Path, Samples]) -> None:
    _, _, played = rehearsal
    assert np.abs(played[: RATE - 4800]).max() > 0.05
    assert np.abs(played[RATE + 9600 : 3 * RATE - 2000]).max() == 0.0
    assert np.abs(played[4 * RATE : 5 * RATE]).max() == pytest.approx(gain_of(-18.0), rel=0.01)
    assert np.abs(played[-RATE:]).max() > 0.05


def test_level_and_hum_are_told(rehearsal: tuple[OfflineLoop, Path, Samples]) -> None:
    _, stick, _ = rehearsal
    (level,) = log_of(stick, "level")
    assert level["calibrated"] is False
    assert -60.0 < float(str(level["mean_db"])) < -20.0
    assert "hum" in {line["message"] for line in log_of(stick, "notice")}
    (sheet,) = stick.glob("rehearsals/*/sheet.html")
    assert "Uncalibrated" in sheet.read_text(encoding="utf-8")
