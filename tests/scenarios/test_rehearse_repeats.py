"""The same rehearsal twice is the same bytes twice."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from hardware.simulated.output_folder import SUMS

SCRIPT = """
title = "Again"
seconds = 5
seed = 3
[settings]
preroll = 2
shape = "triad"
[plan]
[[plan.step]]
tonic = "D"
[[player]]
name = "flutes"
timbre = "flute"
count = 3
[[play]]
at = 2
seconds = 2
player = "flutes"
degree = "5"
cents = 8
settle_to = 0
settle_s = 1
[[cue]]
at = 0.1
tap = "Drone"
[[cue]]
at = 0.4
tap = "Ear"
[[cue]]
at = 1
push_turn = 2
[[cue]]
at = 1.5
tap = "Take"
[[cue]]
at = 2.5
hold = "Take"
[[cue]]
at = 3.6
pedal = "right"
[[cue]]
at = 4
tap = "Take"
[[cue]]
at = 4.4
tap = "Replay"
"""


def sums(out: Path, *words: str, hash_seed: str) -> bytes:
    """Rehearse in a process of its own; the sums of all that it wrote."""
    command = [sys.executable, "-m", "hardware.desk", "rehearse", *words, "--out", str(out), "--quiet"]
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDEVMODE"}
    subprocess.run(command, check=True, env={**environment, "PYTHONHASHSEED": hash_seed}, timeout=110)
    return (out / SUMS).read_bytes()


def test_two_runs_are_byte_identical(tmp_path: Path):
    script = tmp_path / "again.toml"
    script.write_text(SCRIPT, encoding="utf-8")
    first = sums(tmp_path / "one", str(script), hash_seed="1")
    second = sums(tmp_path / "another name", str(script), hash_seed="2")
    assert first == second
    assert first.count(b"\n") >= 8


@pytest.mark.long
def test_two_runs_of_the_shipped_rehearsal_are_byte_identical(tmp_path: Path):
    assert sums(tmp_path / "one", hash_seed="1") == sums(tmp_path / "two", hash_seed="2")
