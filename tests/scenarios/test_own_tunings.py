"""Own tunings in a whole box: made by the knob while they sound, kept on the stick, found again, used by a plan."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firmware.events import Adjusted, PanelKey, PlanOpened, PowerDown
from firmware.parts.drone import NAME as DRONE
from firmware.parts.panel import NAME as PANEL
from firmware.parts.tunings import CENTS, KEPT_AS, TONE
from firmware.take_events import StickChanged
from firmware.units import cents_of
from hardware.desk import offline_box
from hardware.drivers.stick import FolderStick
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen
from hardware.switch_on import switch_on

RATE, BLOCK = 48_000, 512
LATENCY = 96
"""The limiter's look-ahead, by which all sound leaves late."""

HALL = '# The organ of the hall, by hand.\ntitle = "Hall"\n[intervals]\n4 = "5/4 - 2 cents"\n7 = "3/2"\n'


class Rig:
    """A box with the stick of a folder, and what it played."""

    def __init__(self, folder: Path) -> None:
        self.stick = FolderStick(folder / "KEELNOTE")
        self.found = switch_on(self.stick)
        self.loop = offline_box(self.stick, SimulatedScreen(), self.found.start)
        self.panel = SimulatedPanel()
        self.panel.start(self.loop.post, lambda: self.loop.now)
        self.sound: list[np.ndarray] = []

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds * RATE / BLOCK)):
            self.panel.pump(self.loop.now)
            self.sound.append(self.loop.block(np.zeros(BLOCK, np.float32)).copy())

    def turn(self, field: str, steps: int, seconds: float = 0.3) -> None:
        self.loop.post(Adjusted(self.loop.now, field, steps))
        self.run(seconds)

    def third(self) -> float:
        """Cents of the sounding third above its root."""
        tones = self.loop.box.state_of(DRONE).tones
        return cents_of(tones[1].hz / tones[0].hz)

    def tuning(self) -> str:
        return str(self.loop.box.state_of(DRONE).harmony.tuning)

    @property
    def played(self) -> np.ndarray:
        return np.concatenate(self.sound).astype(np.float64)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "KEELNOTE" / "tunings").mkdir(parents=True)
    return tmp_path


def sounding(folder: Path) -> Rig:
    """A box whose drone sounds a just triad."""
    rig = Rig(folder)
    rig.turn("shape", 2)
    rig.panel.tap(PanelKey.DRONE)
    rig.run(0.6)
    assert rig.third() == pytest.approx(386.314, abs=1e-3), "5/4 (Helmholtz tr. Ellis, app. XX)"
    return rig


def test_a_degree_is_moved_cent_by_cent_while_it_sounds_and_kept(folder: Path) -> None:
    rig = sounding(folder)
    at = rig.loop.now
    rig.turn(CENTS, -3)
    assert (rig.tuning(), rig.third()) == ("own 1", pytest.approx(383.314, abs=1e-3))
    other = sounding(folder)
    other.run(0.3)
    changed = np.flatnonzero(rig.played != other.played[: len(rig.played)])
    assert 0 <= changed[0] - at <= BLOCK + LATENCY, "heard in the next block"
    file = folder / "KEELNOTE" / "tunings" / "own 1.toml"
    assert not file.exists(), "a knob on its way writes nothing"
    rig.run(2.2)
    assert '4 = "5/4 - 3 cents"' in file.read_text(encoding="utf-8")
    assert '5 = "4/3"' in file.read_text(encoding="utf-8"), "what was not touched stays the exact ratio"
    first = file.read_text(encoding="utf-8")
    rig.turn(TONE, 3)
    rig.turn(CENTS, 2, 2.5)
    assert (folder / "KEELNOTE" / "tunings" / "own 1.toml.old").read_text(encoding="utf-8") == first
    assert '7 = "3/2 + 2 cents"' in file.read_text(encoding="utf-8")


def test_a_moved_degree_does_not_click(folder: Path) -> None:
    """A click is a jump: no second difference may be much larger than those of the steady sound before."""
    rig = sounding(folder)
    at = rig.loop.now
    for _ in range(8):
        rig.turn(CENTS, 1, 0.05)
    rig.run(0.5)
    bend = np.abs(np.diff(rig.played, 2))
    steady, moved = bend[at - RATE // 4 : at].max(), bend[at:].max()
    assert moved < 1.5 * steady


def test_what_was_kept_is_there_again_and_can_be_planned(folder: Path) -> None:
    rig = sounding(folder)
    rig.turn(CENTS, -3)
    rig.loop.post(PowerDown(rig.loop.now))
    rig.run(0.2)
    (folder / "KEELNOTE" / "tunings" / "hall.toml").write_text(HALL)
    (folder / "KEELNOTE" / "plans").mkdir()
    plan = "[[step]]\ntuning = 'hall'\nshape = 'triad'\n[[step]]\ntuning = 'hal'\n"
    (folder / "KEELNOTE" / "plans" / "a.toml").write_text(plan)
    again = Rig(folder)
    assert len(again.found.report) == 1
    assert "line 5: step.tuning 'hal' is not accepted" in again.found.report[0]
    again.run(0.1)
    assert (again.tuning(), again.third()) == ("own 1", pytest.approx(383.314, abs=1e-3))
    again.turn("tuning", -1)
    assert (again.tuning(), again.third()) == ("hall", pytest.approx(384.314, abs=1e-3))
    again.turn("plan_step", 1)
    assert again.tuning() == "hall"
    again.turn("plan_step", 1)
    assert again.tuning() == "hall", "a bad entry costs only itself"


def test_a_tuning_that_is_gone_is_said_and_just_takes_its_place(folder: Path) -> None:
    rig = sounding(folder)
    rig.loop.post(PlanOpened(rig.loop.now, "x", (("tuning", "gone"),)))
    rig.run(0.1)
    assert (rig.tuning(), rig.loop.box.state_of(PANEL).message) == ("just", "No tuning gone")
    rig.turn("tuning", 1)
    assert rig.tuning() == "just"


def test_a_tuning_that_somebody_wrote_is_never_written_over(folder: Path) -> None:
    file = folder / "KEELNOTE" / "tunings" / "hall.toml"
    file.write_text(HALL)
    rig = sounding(folder)
    rig.turn("tuning", -1)
    assert rig.tuning() == "hall"
    rig.turn(CENTS, 1, 2.5)
    assert (rig.tuning(), rig.third()) == ("own 1", pytest.approx(385.314, abs=1e-3))
    assert file.read_text() == HALL
    assert '4 = "5/4 - 1 cents"' in (file.parent / "own 1.toml").read_text()


def test_a_bad_tuning_is_said_and_the_good_ones_remain(folder: Path) -> None:
    tunings = folder / "KEELNOTE" / "tunings"
    (tunings / "hall.toml").write_text(HALL)
    (tunings / "bad.toml").write_text('[intervals]\n4 = "5/4"\n3 = "high"\ncolour = "red"\n')
    rig = Rig(folder)
    assert [own.name for own in rig.found.start.tunings] == ["hall"]
    assert "tuning-bad" in rig.found.start.notices
    assert any("tunings/bad.toml, line 3: intervals.3" in line for line in rig.found.report)
    assert any("line 4" in line and "unknown key" in line for line in rig.found.report)


def test_a_tuning_is_begun_and_left_by_the_knob(folder: Path) -> None:
    rig = sounding(folder)
    rig.turn(KEPT_AS, 1)
    assert rig.tuning() == "own 1"
    assert rig.third() == pytest.approx(386.314, abs=1e-3)
    rig.turn("tuning", 1, 2.5)
    assert rig.tuning() == "just"
    assert list((folder / "KEELNOTE" / "tunings").iterdir()) == [], "nothing was changed, so nothing is kept"
    rig.turn(CENTS, 4)
    rig.turn(KEPT_AS, 1)
    rig.turn(CENTS, 1, 2.5)
    assert rig.tuning() == "own 2"
    rig.turn(KEPT_AS, -1)
    assert (rig.tuning(), rig.third()) == ("own 1", pytest.approx(390.314, abs=1e-3))


def test_a_stick_that_is_put_in_later_brings_its_tunings_and_plans(folder: Path) -> None:
    """What was made without it goes on under a free name, and is kept on it."""
    rig = sounding(folder)
    rig.loop.post(StickChanged(rig.loop.now, present=False))
    rig.turn(CENTS, -5, 2.5)
    tunings = folder / "KEELNOTE" / "tunings"
    assert list(tunings.iterdir()) == []
    (tunings / "own 1.toml").write_text('title = "own 1"\n[intervals]\n4 = "390 cents"\n')
    (tunings / "hall.toml").write_text(HALL)
    (folder / "KEELNOTE" / "plans").mkdir()
    (folder / "KEELNOTE" / "plans" / "a.toml").write_text("title = 'Later'\n[[step]]\ntuning = 'hall'\n")
    rig.loop.post(StickChanged(rig.loop.now, present=True))
    rig.run(0.3)
    assert (rig.tuning(), rig.third()) == ("own 2", pytest.approx(381.314, abs=1e-3))
    rig.run(2.5)
    assert '4 = "5/4 - 5 cents"' in (tunings / "own 2.toml").read_text()
    assert "390 cents" in (tunings / "own 1.toml").read_text()
    view = rig.loop.box.view(rig.loop.now)
    assert (view.plans, view.plan_name) == (1, "Later")
    rig.turn("plan_step", 1)
    assert rig.tuning() == "hall"
