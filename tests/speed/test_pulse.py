"""The pulse keeps within its share of a core, starts without costing a block its deadline, and reads MIDI in time."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def figures() -> dict[str, Any]:
    """Figures of one run of the program."""
    program = [sys.executable, str(ROOT / "tests" / "speed" / "pulse.py"), "3"]
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDEVMODE"}
    environment |= {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(program, check=True, capture_output=True, text=True, env=environment)
    return json.loads(done.stdout)


def test_click_and_grooves_take_at_most_one_and_a_half_percent_of_a_core(figures: dict[str, Any]):
    assert max(figures["clicker_percent_of_one_core"].values()) <= 1.5
    assert figures["busiest_groove_adds_to_engine_percent"] <= 1.5


def test_a_start_costs_no_block_its_deadline(figures: dict[str, Any]):
    """A block of 512 lasts 10.67 ms; half of it is for everything else."""
    assert figures["block_around_start_or_change_ms"]["worst"] < 5.0


def test_the_largest_files_take_two_seconds_and_100_mb_at_most(figures: dict[str, Any]):
    for name, found in figures["midi"].items():
        assert found["seconds"] < 2.0, name
        assert found["megabytes"] < 100.0, name
