"""What the box writes at the end of a rehearsal, `keelnote sheet` writes again from the log, byte for byte."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firmware.events import Fault, KeyDown, KeyUp, PanelKey, Pedal, PedalDown, PedalUp
from firmware.heard_events import ChordDegree, ChordHeld, NoteHeld, PulseTimed
from firmware.room_events import SoundTold
from firmware.sheet.rehearsal import Rehearsal
from firmware.sheet.sheet import sheet_html
from firmware.units import BLOCK, RATE
from hardware.desk import main, offline_box
from hardware.drivers.stick import FolderStick
from hardware.loop import OfflineLoop
from hardware.simulated.screen import SimulatedScreen
from hardware.switch_on import switch_on

PLAN = """
title = "Tuesday <b>& more</b>"
[[step]]
title = "Chorale"
tonic = "Eb"
section = "clarinet"
[[step]]
title = "March"
tonic = "F"
tempo = 104
"""


def tap(loop: OfflineLoop, key: PanelKey) -> None:
    loop.post(KeyDown(loop.now, key))
    loop.post(KeyUp(loop.now, key))


def run_for(loop: OfflineLoop, seconds: float) -> None:
    for _ in range(round(seconds * RATE / BLOCK)):
        loop.block(np.zeros(BLOCK, np.float32))


def heard(loop: OfflineLoop, rng: np.random.Generator) -> None:
    """Post what the ear and its companions would tell."""
    now = loop.now
    third = ChordDegree("3", "D", -11.54321, "soft", accepted=True, why="", seconds=1.4)
    for place in range(12):
        start = max(now - RATE + place * 1001, 0)
        cents, after = float(rng.normal(5, 9)), float(rng.uniform(0.1, 0.9)) if place % 3 else None
        loop.post(NoteHeld(now, start, ("1", "3", "♭7")[place % 3], "D4", "E4", cents, 1.234567, 0.7, after))
    loop.post(ChordHeld(now, max(now - RATE, 0), "B♭ major", "1", 1.4, (third,)))
    beats = (("1", 12.0, 3.0), ("2", 20.12345, 4.0))
    loop.post(PulseTimed(now, 0, 1, 4, 16, 12.34567, 5.0, -0.6, beats, ((3, 4, 1.5),)))
    loop.post(SoundTold(now, now / RATE, 84.2, 97.0, calibrated=True, dose=3.21, counted_s=now / RATE))
    loop.post(Fault(now, "stick-full", "why"))


@pytest.fixture(scope="module")
def stick(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two rehearsals, so that the second has a trend."""
    root = tmp_path_factory.mktemp("stick") / "KEELNOTE"
    place = FolderStick(root)
    place.write_text("plans/plan.toml", PLAN)
    place.write_text("rehearsals/0001/sheet.html", sheet_html(Rehearsal(1)))
    for number in range(2):
        loop = offline_box(place, SimulatedScreen(), switch_on(place).start)
        rng = np.random.default_rng(number)
        run_for(loop, 0.3)
        for key in (PanelKey.DRONE, PanelKey.TAKE, PanelKey.PULSE):
            tap(loop, key)
            run_for(loop, 0.4)
        heard(loop, rng)
        for _ in range(2):
            loop.post(PedalDown(loop.now, Pedal.RIGHT))
            loop.post(PedalUp(loop.now, Pedal.RIGHT))
            run_for(loop, 0.5)
            heard(loop, rng)
        for key in (PanelKey.PULSE, PanelKey.TAKE):
            tap(loop, key)
            run_for(loop, 0.3)
        loop.finish()
    return root


@pytest.mark.parametrize("name", ["0002", "0003"])
def test_the_same_sheet_comes_from_the_files(stick: Path, name: str, capsys) -> None:
    sheet = stick / "rehearsals" / name / "sheet.html"
    before = sheet.read_text(encoding="utf-8")
    for told in ("Chord checks", "Timing against the pulse", "By written note", "Clarinet in B♭", "&lt;b&gt;"):
        assert told in before, told
    assert main(["sheet", str(sheet.parent)]) == 0
    assert "could not be read" not in capsys.readouterr().out
    assert sheet.read_text(encoding="utf-8") == before


def test_the_second_stands_beside_the_first(stick: Path) -> None:
    page = (stick / "rehearsals/0003/sheet.html").read_text(encoding="utf-8")
    assert "Against earlier rehearsals" in page
    assert "rehearsal 2:" in page
