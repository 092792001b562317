"""The plan in a whole box: a step is heard in the next block and does not click; scores on the stick are offered."""

from __future__ import annotations

from pathlib import Path

import music21
import numpy as np
import pytest

from firmware.events import Adjusted, PanelKey, Pedal
from firmware.parts.drone import NAME as DRONE
from firmware.parts.plan import NAME as PLAN
from hardware.desk import offline_box
from hardware.drivers.stick import FolderStick
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.screen import SimulatedScreen
from hardware.switch_on import switch_on

RATE, BLOCK = 48_000, 512
LATENCY = 96
"""The limiter's look-ahead, by which all sound leaves late."""

PLAN_TEXT = """
title = "Thursday"
a4 = 442

[[step]]
title = "Chorale"
minutes = 5
tonic = "Bb"
shape = "triad"
timbre = "plain"

[[step]]
title = "Clarinets"
tonic = "E"
section = "clarinet"
take = true
marker = "Alone"

[[step]]
title = "Tutti"
third_level = -12
tuning = "equal"
octave = 3
timbre = "bowed"
take = false
"""


class Rig:
    """A box with the stick of a folder, its fingers, and what it played."""

    def __init__(self, folder: Path) -> None:
        self.stick = FolderStick(folder / "KEELNOTE")
        self.loop = offline_box(self.stick, SimulatedScreen(), switch_on(self.stick).start)
        self.panel = SimulatedPanel()
        self.panel.start(self.loop.post, lambda: self.loop.now)
        self.sound: list[np.ndarray] = []

    def run(self, blocks: int) -> None:
        for _ in range(blocks):
            self.panel.pump(self.loop.now)
            self.sound.append(self.loop.block(np.zeros(BLOCK, np.float32)).copy())

    def step(self, blocks: int = 40) -> None:
        self.panel.pedal(Pedal.RIGHT)
        self.run(blocks)

    @property
    def played(self) -> np.ndarray:
        return np.concatenate(self.sound).astype(np.float64)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "KEELNOTE" / "plans").mkdir(parents=True)
    (tmp_path / "KEELNOTE" / "plans" / "thursday.toml").write_text(PLAN_TEXT)
    return tmp_path


def sounding(folder: Path, steps: int) -> Rig:
    """A box whose drone sounds in some step of the plan."""
    rig = Rig(folder)
    rig.panel.tap(PanelKey.DRONE)
    rig.run(60)
    for _ in range(steps):
        rig.step()
    return rig


@pytest.mark.parametrize("steps", [0, 1, 2])
def test_a_step_is_heard_in_the_next_block(folder: Path, steps: int) -> None:
    """Two boxes do the same until the pedal of one is pressed: the first sample in which they differ is the step's."""
    one, other = sounding(folder, steps), sounding(folder, steps)
    pressed = one.loop.now
    assert np.array_equal(one.played, other.played)
    one.step()
    other.run(40)
    changed = np.flatnonzero(one.played != other.played)
    assert len(changed) > 0
    assert 0 <= changed[0] - pressed <= BLOCK + LATENCY


@pytest.mark.parametrize("steps", [0, 1, 2])
def test_a_step_does_not_click(folder: Path, steps: int) -> None:
    """A click is a jump: no sample may leave the line through its neighbours further than in steady sound around it."""
    rig = sounding(folder, steps)
    pressed = rig.loop.now
    rig.step(200)
    bend = np.abs(np.diff(rig.played, 2))
    before = bend[pressed - 20 * BLOCK : pressed - BLOCK].max()
    after = bend[pressed + 60 * BLOCK : pressed + 198 * BLOCK].max()
    assert bend[pressed : pressed + 40 * BLOCK].max() <= 1.2 * max(before, after)
    jumped = rig.played.copy()
    jumped[pressed + 3 * BLOCK :] *= -1  # what a hard change would be
    assert np.abs(np.diff(jumped, 2)).max() > 2 * max(before, after)


def test_the_reference_holds_from_the_start_and_a_reading_ends_with_its_step(folder: Path) -> None:
    rig = Rig(folder)
    rig.run(1)
    assert rig.loop.box.state_of(DRONE).harmony.a4 == 442.0
    badges = []
    for _ in range(3):
        rig.step()
        view = rig.loop.box.view(rig.loop.now)
        badges.append((view.plan_title, view.badge, view.taking))
    assert badges == [("Chorale", "", False), ("Clarinets", "in B♭", True), ("Tutti", "", False)]
    rig.loop.finish()
    (chapters,) = (folder / "KEELNOTE").rglob("*.vtt")
    assert "Alone" in chapters.read_text(encoding="utf-8")


def test_the_knob_goes_back_and_everything_is_as_it_was(folder: Path) -> None:
    there, back = Rig(folder), Rig(folder)
    there.step()
    for _ in range(3):
        back.step()
    back.loop.post(Adjusted(back.loop.now, "plan_step", -2))
    back.run(2)
    assert back.loop.box.state_of(PLAN).begun == 1
    one, other = there.loop.box.state_of(DRONE).harmony, back.loop.box.state_of(DRONE).harmony
    assert (one.key, one.a4) == (other.key, other.a4)


def test_a_score_on_the_stick_is_offered_stepped_through_and_chosen(folder: Path) -> None:
    """The score is a chorale of music21's corpus (open data), its key is what music21 says."""
    path = next((Path(music21.__file__).parent / "corpus" / "bach").glob("bwv269.mxl"))
    (folder / "KEELNOTE" / "plans" / "chorale.mxl").write_bytes(path.read_bytes())
    rig = Rig(folder)
    rig.step()
    assert rig.loop.box.view(rig.loop.now).plan_title == "Chorale"
    rig.loop.post(Adjusted(rig.loop.now, "chosen_plan", 1))
    rig.run(3)
    view = rig.loop.box.view(rig.loop.now)
    assert (view.plan_number, view.plans, view.plan_step, view.plan_title) == (2, 2, 0, "")
    rig.step()
    key = music21.converter.parse(path, forceSource=True).recurse().getElementsByClass(music21.key.Key)[0]
    view = rig.loop.box.view(rig.loop.now)
    assert (view.tonic, view.mode) == (key.tonic.name.replace("-", "♭").replace("#", "♯"), key.mode)
    (folder / "KEELNOTE" / "plans" / "thursday.toml").unlink()
    alone = Rig(folder)
    alone.step()
    assert alone.loop.box.view(alone.loop.now).tonic == view.tonic


def test_a_bad_plan_is_reported_and_its_good_steps_run(folder: Path) -> None:
    file = folder / "KEELNOTE" / "plans" / "thursday.toml"
    file.write_text(PLAN_TEXT.replace('tonic = "E"', 'tonic = "H"') + "\n[[step]\nnonsense\n")
    rig = Rig(folder)
    rig.run(10)
    assert rig.loop.box.view(rig.loop.now).message.startswith("Plan has errors")
    titles = []
    for _ in range(3):
        rig.step()
        titles.append(rig.loop.box.view(rig.loop.now).plan_title)
    assert titles == ["Chorale", "Clarinets", "Tutti"]
