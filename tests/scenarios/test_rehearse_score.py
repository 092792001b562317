"""The shipped rehearsal from a score: its plan is the score, as another library reads it, and the box follows it."""

import csv
import json
import os
import subprocess
import sys
from pathlib import Path

import music21
import pytest

from firmware.music.notes import parse_pitch_name
from hardware.simulated.script import load_script, shipped_scripts

SCRIPT = "tern-street"
SCORE = shipped_scripts()[SCRIPT].with_name("tern-street-air.musicxml")


def last(part: music21.stream.Part, kind: str, measure: int) -> music21.Music21Object:
    """What of a kind stands last up to a measure."""
    return [one for one in part.recurse().getElementsByClass(kind) if one.measureNumber <= measure][-1]


def test_the_plan_has_the_keys_tempi_and_meters_that_music21_reads():
    """Source: music21, which knows nothing of us; sections begin at the rehearsal marks and the pickup."""
    steps = load_script(SCRIPT).plan.steps
    part = music21.converter.parse(SCORE).toSoundingPitch().parts[0]
    starts = [0, *(mark.measureNumber for mark in part.recurse().getElementsByClass("RehearsalMark"))]
    assert [step.title[0] for step in steps] == ["P", *"ABC"]
    for step, number in zip(steps, starts, strict=True):
        values = dict(step.values)
        key, meter, tempo = (last(part, kind, number) for kind in ("Key", "TimeSignature", "MetronomeMark"))
        assert parse_pitch_name(str(values["tonic"])).text == key.tonic.name.replace("-", "♭")
        assert values["mode"] == key.mode
        assert values["meter"] == meter.ratioString
        assert values["tempo"] == tempo.number
    assert dict(steps[0].values)["pickup"] == part.measure(0).duration.quarterLength


def test_nothing_of_the_score_is_left_out_and_every_step_is_played():
    script = load_script(SCRIPT)
    assert script.remarks == ()
    assert sum(cue.action == "pedal" and cue.name == "right" for cue in script.cues) == len(script.plan.steps)


@pytest.mark.long
def test_the_box_follows_the_score(tmp_path: Path):
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDEVMODE"}
    command = [sys.executable, "-W", "error", "-m", "hardware.desk", "rehearse", SCRIPT, "--out", str(tmp_path / "out")]
    done = subprocess.run(command, check=True, env=environment, timeout=170, capture_output=True, text=True)
    assert "1 take" in done.stdout
    folder = tmp_path / "out" / "KEELNOTE" / "rehearsals" / "0001"
    log = [json.loads(line) for line in (folder / "log.jsonl").read_text(encoding="utf-8").splitlines()]
    keys = [line["key"] for line in log if line["what"] == "harmony" and line["sounding"]]
    assert list(dict.fromkeys(keys)) == ["G minor", "B♭ major", "E♭ major"]
    pulses = [(line["tempo"], line["meter"]) for line in log if line["what"] == "pulse" and line["on"]]
    assert pulses == [(76.0, "4/4"), (58.0, "6/8")]
    with (folder / "notes.csv").open(encoding="utf-8", newline="") as file:
        tuba, trumpet = list(csv.DictReader(file))
    assert (tuba["concert"], tuba["degree"], trumpet["concert"], trumpet["degree"]) == ("G2", "1", "D5", "3")
    assert float(tuba["median_cents"]) == pytest.approx(-2.0, abs=1.0)
    assert float(trumpet["median_cents"]) == pytest.approx(2.5, abs=1.5)
    (take,) = (line for line in log if line["what"] == "take-stopped")
    assert [name[0] for _, name in take["markers"]] == ["A", "B", "C"]
