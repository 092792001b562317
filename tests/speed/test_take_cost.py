"""Writing a take costs next to nothing beside what listens to it."""

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
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDEVMODE"}
    environment |= {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    program = [sys.executable, str(ROOT / "tests" / "speed" / "take_cost.py"), "1"]
    done = subprocess.run(program, check=True, capture_output=True, text=True, env=environment)
    return json.loads(done.stdout)


def test_a_take_costs_one_percent_of_a_core_at_most(figures: dict[str, Any]) -> None:
    assert figures["take_percent"] <= 1.0
    assert figures["take_of_players_percent"] <= 1.0


def test_the_second_channel_costs_less_than_the_first(figures: dict[str, Any]) -> None:
    assert figures["take_of_two_channels_percent"] <= 2.0 * figures["take_of_players_percent"]
