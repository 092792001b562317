"""Pulse, drone, ear and take run together: the whole box, moved by its keys, with every stroke on its sample."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from firmware.events import PanelKey, Tick
from firmware.parts.part import Start
from firmware.parts.pulse import NAME as PULSE
from firmware.settings import DEFAULTS
from firmware.sound.percussion import sound_of
from hardware.desk import offline_box
from hardware.drivers.stick import FolderStick
from hardware.loop import OfflineLoop
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen

RATE, BLOCK = 48_000, 512
LATENCY = 96
"""The limiter's look-ahead, by which all sound leaves late."""


class Rig:
    """A box, its keys, and what it played."""

    def __init__(self, folder: Path, **changes: str | float) -> None:
        values = DEFAULTS
        for name, value in changes.items():
            values = values.put(name, value)
        self.loop: OfflineLoop = offline_box(
            FolderStick(folder / "KEELNOTE"), SimulatedScreen(), Start(values=values, stick=True)
        )
        self.panel = SimulatedPanel()
        self.panel.start(self.loop.post, lambda: self.loop.now)
        self.sound: list[np.ndarray] = []

    def run(self, seconds: float) -> None:
        end = self.loop.now + round(seconds * RATE)
        while self.loop.now < end:
            self.panel.pump(self.loop.now)
            self.sound.append(self.loop.block(np.zeros(BLOCK, np.float32)).copy())

    @property
    def played(self) -> np.ndarray:
        return np.concatenate(self.sound)


def found_at(sound: np.ndarray, stroke: np.ndarray, near: int) -> int:
    """Sample near which a stroke fits best, by correlation."""
    part = sound[near - 300 : near + 300 + len(stroke)].astype(float)
    return near - 300 + int(np.argmax(np.correlate(part, stroke.astype(float), "valid")))


def test_every_stroke_is_on_its_sample_while_everything_runs(tmp_path: Path) -> None:
    rig = Rig(
        tmp_path,
        tempo=97.3,
        meter="2+2+3/8",
        pulse_level=-6.0,
        drone_level=-24.0,
        ramp_over=7,
        ramp_to=150.0,
        ramp_after=1,
    )
    rig.run(0.6)
    for key in (PanelKey.DRONE, PanelKey.EAR, PanelKey.TAKE):
        rig.panel.tap(key)
        rig.run(0.2)
    rig.panel.tap(PanelKey.PULSE)
    rig.run(9.0)
    state = rig.loop.box.state_of(PULSE)
    beats = [beat for bar in (1, 2, 3) for beat in state.program.beats(bar) if beat.time < 8.5]
    assert state.on
    assert len(beats) > 14
    for beat in beats:
        expected = round(state.start + beat.time * RATE) + LATENCY
        sound = sound_of("high" if beat.weight > 0.5 else "low", RATE)
        if beat.time:  # the first is struck as soon as the engine hears of its key
            assert abs(found_at(rig.played, sound, expected) - expected) <= 1, beat
    view = rig.loop.box.view(rig.loop.now)
    assert (view.pulse_on, view.drone_on, view.ear, view.taking) == (True, True, "watch", True)
    rig.panel.tap(PanelKey.TAKE)
    rig.run(0.3)
    rig.loop.finish()
    (take,) = (tmp_path / "KEELNOTE").rglob("take-01.flac")
    assert soundfile.info(take).frames > 8 * RATE
    assert list((tmp_path / "KEELNOTE").rglob("report.txt")) == []


def test_the_page_announces_the_next_meter_a_bar_ahead(tmp_path: Path) -> None:
    rig = Rig(tmp_path, tempo=240.0, meter="4/4x2 3/4")
    rig.panel.tap(PanelKey.PULSE)
    told: dict[int, set[str]] = {}
    for _ in range(60):
        rig.run(0.05)
        view = rig.loop.box.view(rig.loop.now)
        told.setdefault(view.bar, set()).add(view.next_bar)
    assert told[1] == {""}
    assert told[2] == {"3/4"}
    assert told[3] == {"4/4"}


@pytest.mark.parametrize("steps", [3, -3])
def test_the_tempo_is_turned_while_the_key_is_held(tmp_path: Path, steps: int) -> None:
    rig = Rig(tmp_path, tempo=120.0)
    rig.panel.tap(PanelKey.PULSE)
    rig.run(1.0)
    rig.panel.hold_turn(PanelKey.PULSE, steps)
    rig.run(3.0)
    assert rig.loop.box.view(rig.loop.now).tempo == 120.0 + steps
    rig.loop.post(Tick(rig.loop.now))
    rig.run(0.1)
    assert rig.loop.box.state_of(PULSE).on


def test_a_groove_is_chosen_by_the_knob(tmp_path: Path) -> None:
    rig = Rig(tmp_path, tempo=120.0)
    rig.panel.push_turn(3)
    rig.run(1.0)
    for _ in range(3):
        rig.panel.push()
        rig.run(0.2)
    rig.panel.turn(7)
    rig.panel.tap(PanelKey.PULSE)
    rig.run(1.0)
    view = rig.loop.box.view(rig.loop.now)
    assert (view.page, view.cursor, view.values["groove"], view.values["meter"]) == ("pulse", "groove", "waltz", "3/4")
    assert view.meter_groups == (3,)
