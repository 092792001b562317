"""The drone keeps within its share of a core, and costs less per note than FluidSynth beside it."""

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
    program = [sys.executable, str(ROOT / "tests" / "speed" / "drone.py"), "5"]
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDEVMODE"}
    environment |= {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(program, check=True, capture_output=True, text=True, env=environment)
    return json.loads(done.stdout)


def test_thirty_two_notes_cost_at_most_one_percent_of_a_core(figures: dict[str, Any]):
    assert figures["drone_32_notes_percent"] <= 1.0
    assert figures["engine_32_notes_percent"] <= 1.0


@pytest.mark.soundfont
def test_a_note_costs_less_than_in_fluidsynth(figures: dict[str, Any]):
    if "engine_to_fluidsynth_per_note" not in figures:
        pytest.skip("fluidsynth or fluid-soundfont-gm is not installed")
    assert figures["engine_to_fluidsynth_per_note"] < 1.0


@pytest.mark.parametrize("notes", [8, 32])
def test_a_change_of_chord_leaves_most_of_its_block_free(figures: dict[str, Any], notes: int):
    """A block of 512 lasts 10.67 ms; half of it is for everything else."""
    assert figures[f"change_of_{notes}_notes_ms"]["worst"] < 5.0
