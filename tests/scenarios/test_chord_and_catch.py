"""The whole box hears a band: a chord over its own drone, degree by degree, then the tonic of a note on a press."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from hardware.desk import main

BAND = """
title = "A chord, then a new key"
[settings]
tonic = "Bb"
shape = "octaves"
[room]
rt60 = 0.9
[[player]]
name = "horns"
timbre = "horn"
count = 3
spread = 3
[[player]]
name = "clarinets"
timbre = "saxophone"
count = 3
spread = 3
[[player]]
name = "trumpets"
timbre = "trumpet"
count = 3
spread = 3
[[player]]
name = "tuba"
timbre = "tuba"
[[play]]
at = 5
seconds = 2.5
player = "horns"
note = "Bb3"
cents = 0
settle_to = 0
[[play]]
at = 5
seconds = 2.5
player = "clarinets"
note = "D4"
cents = 12
settle_to = 12
[[play]]
at = 5
seconds = 2.5
player = "trumpets"
note = "F4"
cents = -6
settle_to = -6
"""

SCRIPT = f"""
seconds = 14
{BAND}
[[play]]
at = 10.5
seconds = 3
player = "tuba"
note = "Eb3"
[[cue]]
at = 0.1
tap = "Drone"
[[cue]]
at = 0.5
tap = "Ear"
[[cue]]
at = 1
tap = "Ear"
[[cue]]
at = 1.5
tap = "Ear"
[[cue]]
at = 8.5
tap = "Drone"
[[cue]]
at = 12
hold = "Ear"
[[shot]]
at = 7.6
caption = "The chord"
"""

ALONE = f"""
seconds = 48
{BAND}
[[cue]]
at = 0.3
tap = "Ear"
[[cue]]
at = 0.8
tap = "Ear"
[[cue]]
at = 1.3
tap = "Ear"
[[cue]]
at = 4
tap = "Take"
[[cue]]
at = 9
tap = "Take"
[[cue]]
at = 11
tap = "Replay"
[[cue]]
at = 20
tap = "Drone"
[[cue]]
at = 24
tap = "Pulse"
[[cue]]
at = 27
turn = 1
[[cue]]
at = 31
turn = 1
[[cue]]
at = 36
tap = "Replay"
"""


def rehearsed(script: str, folder: Path) -> list[dict[str, Any]]:
    """The lines of the log of a rehearsal."""
    file = folder / "script.toml"
    file.write_text(script, encoding="utf-8")
    assert main(["rehearse", str(file), "--out", str(folder / "out")]) == 0
    (log,) = folder.rglob("log.jsonl")
    return [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    """The log of a chord over the drone and a note that is caught."""
    return rehearsed(SCRIPT, tmp_path_factory.mktemp("chord"))


def test_each_degree_of_the_chord_is_told_over_the_drone(log: list[dict[str, Any]]) -> None:
    (chord,) = [line for line in log if line["what"] == "chord"]
    assert (chord["chord"], chord["degree"]) == ("B♭ major", "1")
    assert [degree["degree"] for degree in chord["degrees"]] == ["1", "3", "5"]
    assert all(degree["accepted"] for degree in chord["degrees"])
    # Three players with a deviation of 3 cents: their mean has one of 1.7, and the room leans on some of them.
    assert [degree["cents"] for degree in chord["degrees"]] == pytest.approx([0.0, 12.0, -6.0], abs=4.0)
    assert chord["start_s"] == pytest.approx(5.0, abs=0.2)


def test_a_hold_of_the_key_catches_the_tonic(log: list[dict[str, Any]]) -> None:
    (caught,) = [line for line in log if line["what"] == "caught"]
    assert caught["key"] == "E♭ major"
    assert caught["confidence"] > 0.8
    assert [line["key"] for line in log if line["what"] == "harmony"][-1] == "E♭ major"


@pytest.mark.long
def test_replay_of_a_chord_drone_and_pulse_are_no_chord_of_players(tmp_path: Path) -> None:
    # One chord is played and recorded; then it is replayed, alone and under drone and pulse, which change.
    log = rehearsed(ALONE, tmp_path)
    assert len([line for line in log if line["what"] == "replay-ended"]) == 2
    (chord,) = [line for line in log if line["what"] == "chord"]
    assert chord["start_s"] == pytest.approx(5.0, abs=0.2)
