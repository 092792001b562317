"""Takes are deleted at the panel of a whole box: one, then all that the stick has; the sheet forgets them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firmware.events import KeyDown, KeyUp, KnobDown, KnobTurn, KnobUp, PanelKey
from firmware.parts.eraser import DETENTS
from firmware.parts.panel import NAME as PANEL
from firmware.parts.part import Start
from firmware.screens.fields import fields_of
from firmware.units import BLOCK, RATE
from hardware.desk import offline_box
from hardware.loop import OfflineLoop
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.stick import SimulatedStick

EARLIER = "rehearsals/0001 2026-11-18"
FOLDER = "rehearsals/0002"
SILENCE = np.zeros(BLOCK, dtype=np.float32)


@pytest.fixture
def stick(tmp_path: Path) -> SimulatedStick:
    """A stick with a take of last week."""
    stick = SimulatedStick(tmp_path / "KEELNOTE")
    take = stick.open_take(f"{EARLIER}/take-01.flac")
    take.write(np.zeros(RATE, dtype=np.float32))
    take.close()
    stick.write_text(f"{EARLIER}/log.jsonl", "")
    return stick


@pytest.fixture
def loop(stick: SimulatedStick) -> OfflineLoop:
    """A box that has recorded two takes."""
    loop = offline_box(stick, SimulatedScreen(), Start(number=2, stick=True))
    for _ in range(4):
        run(loop, 0.5)
        tap(loop, PanelKey.TAKE)
    run(loop, 0.5)
    return loop


def run(loop: OfflineLoop, seconds: float) -> None:
    for _ in range(round(seconds * RATE / BLOCK)):
        loop.block(SILENCE)


def tap(loop: OfflineLoop, key: PanelKey) -> None:
    loop.post(KeyDown(loop.now, key))
    loop.post(KeyUp(loop.now, key))


def go_to(loop: OfflineLoop, field: str) -> None:
    """Hold Replay, which opens the list of takes, and push the knob down to a field."""
    loop.post(KeyDown(loop.now, PanelKey.REPLAY))
    run(loop, 0.7)
    loop.post(KeyUp(loop.now, PanelKey.REPLAY))
    for _ in range(fields_of("takes").index(field)):
        loop.post(KnobDown(loop.now))
        loop.post(KnobUp(loop.now))


def turn(loop: OfflineLoop, detents: int) -> None:
    for _ in range(detents):
        loop.post(KnobTurn(loop.now, 1))
        run(loop, 0.05)
    run(loop, 0.5)


def message(loop: OfflineLoop) -> str:
    return str(loop.box.state_of(PANEL).message)


def test_a_long_turn_deletes_the_chosen_take_and_another_one_all(loop: OfflineLoop, stick: SimulatedStick) -> None:
    sheet = stick.read_text(f"{FOLDER}/sheet.html") or ""
    assert "take-02.flac" in sheet
    go_to(loop, "delete_take")
    turn(loop, DETENTS["delete_take"] - 1)
    assert "take-02.flac" in stick.names(FOLDER), "a turn that is not long enough deletes nothing"
    turn(loop, 1)
    assert {"take-02.flac", "take-02.vtt"}.isdisjoint(stick.names(FOLDER))
    assert {"take-01.flac", "take-01.vtt"} <= set(stick.names(FOLDER))
    assert message(loop) == "Takes deleted: 1"
    assert "take-02.flac" not in (stick.read_text(f"{FOLDER}/sheet.html") or "")
    go_to(loop, "delete_all")
    turn(loop, DETENTS["delete_all"])
    assert message(loop) == "Takes deleted: 2"
    assert stick.names(EARLIER) == ("log.jsonl",)
    assert not [name for name in stick.names(FOLDER) if name.endswith((".flac", ".vtt"))]
    assert '"takes-deleted", "number": 0, "count": 2' in (stick.read_text(f"{FOLDER}/log.jsonl") or "")


def test_while_a_take_runs_none_is_deleted(loop: OfflineLoop, stick: SimulatedStick) -> None:
    tap(loop, PanelKey.TAKE)
    run(loop, 0.3)
    for field in DETENTS:
        go_to(loop, field)
        turn(loop, DETENTS[field])
        assert message(loop) == "Stop the take first"
    assert {"take-01.flac", "take-02.flac", "take-03.flac"} <= set(stick.names(FOLDER))
