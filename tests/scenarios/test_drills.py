"""Drills in a whole box: hands on the panel, a simulated class, players in a room; the log, the stick and the sheet."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from firmware.parts.part import Start
from firmware.plan.checked_toml import decode
from firmware.settings import DEFAULTS
from firmware.units import BLOCK, samples_of
from hardware.desk import main, offline_box
from hardware.desk_app.fingers import Fingers
from hardware.drivers.stick import FolderStick
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.pupils import Pupils, SchoolClass
from hardware.simulated.screen import SimulatedScreen
from hardware.simulated.script import shipped_scripts

FOLDER = Path("KEELNOTE/rehearsals/0001")

HANDS = (
    (0.5, lambda panel: panel.push_turn(-1)),  # the page Drill, from Key leftwards
    (1.0, lambda panel: panel.push()),  # to begin
    (1.5, lambda panel: panel.turn(1)),
    (28.0, lambda panel: panel.push()),  # the cursor has gone back to the tonic: to the first field of the page
    (29.0, lambda panel: panel.turn(1)),  # which is it
    (29.4, lambda panel: panel.push()),
    (29.8, lambda panel: panel.turn(1)),
)
"""Seconds, and what the director's hand does: both drills are begun on their page."""

PUPILS = Pupils(0.0, hears=0.6, says="just", waits=0.5, turns=25.0)
"""A class with fine ears, which has made up its mind about the second drill."""

HORNS = """
title = "Match"
seconds = 31
[settings]
tonic = "Bb"
drone_level = -20.0
match_within = 10
match_seconds = 2
[room]
rt60 = 0.5
[plan]
[[plan.step]]
title = "Horns"
group = "Horns"
drill = "match"
[[player]]
name = "horn"
timbre = "horn"
level_db = -25
[[cue]]
at = 0.2
push_turn = 5
[[cue]]
at = 2.5
turn = 1
[[cue]]
at = 10.0
pedal = "right"
[[play]]
at = 12.2
player = "horn"
degree = "1"
octave = 3
seconds = 5.0
cents = 25
[[play]]
at = 18.5
player = "horn"
degree = "1"
octave = 3
seconds = 4.0
cents = 4
[[play]]
at = 24.5
player = "horn"
degree = "2"
octave = 3
seconds = 4.0
cents = -6
"""
"""A horn that is sharp on the first degree, then in tune; then on the second."""


def read(folder: Path) -> tuple[list[dict[str, Any]], str]:
    """The records of a rehearsal's log, and the words of its sheet."""
    log = [json.loads(line) for line in (folder / "log.jsonl").read_text(encoding="utf-8").splitlines()]
    page = (folder / "sheet.html").read_text(encoding="utf-8")
    body = page[page.index("<body") : page.index("<script")]
    return log, " ".join(re.sub(r"<[^>]+>", " ", body).split())


def rehearse(script: str, folder: Path) -> tuple[list[dict[str, Any]], str]:
    """Run a script, and read what it left."""
    assert main(["rehearse", script, "--out", str(folder / "out"), "--quiet"]) == 0
    return read(folder / "out" / FOLDER)


def by_hand(stick: FolderStick, seconds: float) -> None:
    """Let hands and a class move a box whose microphone is muted."""
    values = DEFAULTS.put("group", "Clarinets").put("group_number", 2).put("drill_rounds", 3)
    loop = offline_box(stick, SimulatedScreen(), Start(values=values, stick=True))
    panel = SimulatedPanel()
    panel.start(loop.post, lambda: loop.now)
    pupils = SchoolClass(panel, (PUPILS,), lambda: loop.box.state_of("drills").run)
    hands = list(HANDS)
    while loop.now < samples_of(seconds):
        while hands and samples_of(hands[0][0]) <= loop.now:
            hands.pop(0)[1](panel)
        pupils.pump(loop.now)
        panel.pump(loop.now)
        loop.block(np.zeros(BLOCK, np.float32))
    loop.finish()


def rounds(log: list[dict[str, Any]], drill: str) -> list[dict[str, Any]]:
    return [one for one in log if one["what"] == "drill-round" and one["drill"] == drill]


def test_settle_by_the_knob_and_a_class_that_always_says_just(tmp_path: Path) -> None:
    by_hand(FolderStick(tmp_path), 92.0)
    log, sheet = read(tmp_path / "rehearsals" / "0001")

    settled = rounds(log, "settle")
    assert [one["number"] for one in settled] == [1, 2, 3]
    assert all(abs(one["off"]) <= 0.6 and 12 <= abs(one["began"]) <= 45 for one in settled)
    assert all(
        one["beats"] == pytest.approx(116.541 * 5 * abs(2 ** (one["off"] / 1200) - 1), abs=1e-3) for one in settled
    )
    told = rounds(log, "which-is-it")
    assert [one["said"] for one in told] == ["just"] * 12
    assert all(one["right"] is (one["began"] == 1.0) for one in told)
    assert 0 < sum(one["right"] for one in told) < 12
    assert [one["whole"] for one in log if one["what"] == "drill-ended"] == [True, True]

    right = sum(one["right"] for one in told)
    assert "Clarinets 2: settle, degree 3 by the knob 3 in tune" in sheet
    assert "too few to tell" in sheet
    assert f"Clarinets 2: which is it, just or equal 12 {right} of 12 right" in sheet
    assert "which guessing gives too" in sheet  # the third of the sentences at the top


def test_the_keyboard_of_a_desk_is_enough(tmp_path: Path) -> None:
    loop = offline_box(FolderStick(tmp_path), SimulatedScreen(), Start(values=DEFAULTS, stick=True))
    panel = SimulatedPanel()
    panel.start(loop.post, lambda: loop.now)
    fingers = Fingers(panel)

    def strokes(*keys: str) -> None:
        for key in keys:
            assert fingers.stroke(key)
            panel.pump(loop.now)
            loop.block(np.zeros(BLOCK, np.float32))

    strokes("pageup", "enter", "right")
    run = loop.box.state_of("drills").run
    assert run is not None
    strokes(*(["left" if run.value > 0 else "right"] * round(abs(run.value))), "space")
    loop.finish()
    log, _ = read(tmp_path / "rehearsals" / "0001")
    (settled,) = rounds(log, "settle")
    assert abs(settled["off"]) <= 0.5


def test_a_sharp_horn_is_waited_for_and_the_scale_moves_on_by_itself(tmp_path: Path) -> None:
    pushes = "".join(f"[[cue]]\nat = {0.9 + 0.3 * number:.1f}\npush = true\n" for number in range(5))
    script = tmp_path / "horns.toml"
    script.write_text(HORNS + pushes, encoding="utf-8")
    log, sheet = rehearse(str(script), tmp_path)
    first, second = rounds(log, "match")
    assert [first["degree"], second["degree"]] == ["1", "2"]
    # The sharp note was never close enough: the first degree took until the one in tune had been held for 2 s.
    assert 20.5 < first["t"] < 22.0
    assert first["off"] == pytest.approx(4.0, abs=1.0)
    assert 26.5 < second["t"] < 28.0
    assert second["off"] == pytest.approx(-6.0, abs=1.0)
    (ended,) = [one for one in log if one["what"] == "drill-ended"]
    assert (ended["rounds"], ended["whole"]) == (2, False)
    assert "Horns: match, scale, within 10 cents for 2 s 2 2 of 2 held" in sheet


def test_a_step_of_a_plan_names_a_drill_and_its_group(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    steps = '[[step]]\ndrill = "match"\ngroup = "Back row"\n[[step]]\ndrill = "whistle"\ngroup = ""\n'
    plan.write_text(steps, encoding="utf-8")
    assert main(["plan", str(plan)]) == 2
    told = capsys.readouterr()
    assert "drill match" in told.out
    assert "group Back row" in told.out
    problems = told.out + told.err
    assert "line 5: step.drill 'whistle'" in problems
    assert "settle, which-is-it, match, balance" in problems
    assert "line 6: step.group" in problems


@pytest.mark.long
@pytest.mark.timeout(400)  # twenty seconds of processor time, on a machine that may do much else
def test_the_shipped_drills_from_end_to_end(tmp_path: Path) -> None:
    log, sheet = rehearse("kiln-street", tmp_path)
    text, problems = decode(shipped_scripts()["kiln-street"].read_bytes(), "kiln-street")
    assert problems == ()
    assert text.count("drill = ") == 5
    settled = rounds(log, "settle")
    by_knob, by_player = settled[:6], settled[6:]
    # The class wants the third 3 cents high and hears 2.5.
    assert all(0.5 <= one["off"] <= 5.5 for one in by_knob)
    assert all(one["right"] for one in rounds(log, "which-is-it"))
    (clarinet,) = by_player
    assert clarinet["group"] == "Clarinets 2"
    assert clarinet["off"] == pytest.approx(2.0, abs=1.0)
    played = (4, -3, 9, 2, 1, 8, -5, 3)
    assert [one["off"] for one in rounds(log, "match")] == pytest.approx(played, abs=0.5)
    assert [one["right"] for one in rounds(log, "match")] == [True] * 8
    assert all(0.0 <= one["off"] <= 2.0 for one in rounds(log, "balance"))
    assert "Everyone told just from equal 12 times of 12, more than guessing gives" in sheet
    assert "Horns: match, scale, within 12 cents for 2 s 8 8 of 8 held" in sheet
    assert "Everyone: balance, third at −3 dB 3 2 dB loud" in sheet
    # A second evening has the first one beside it.
    stick = tmp_path / "out" / "KEELNOTE"
    again = stick / "rehearsals" / "0002"
    again.mkdir()
    (again / "log.jsonl").write_bytes((stick / "rehearsals" / "0001" / "log.jsonl").read_bytes())
    assert main(["sheet", str(again)]) == 0
    page = (again / "sheet.html").read_text(encoding="utf-8")
    assert "no sure difference" in page
    assert 'id="drill-1-words"' in page
