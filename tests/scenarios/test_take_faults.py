"""Each fault of a stick: what is kept, what the screen says, and that it stands in report.txt."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from firmware.messages import line_of
from tests.speed.take_faults import FAULTS, RESULTS, Kept, suffer, table

LOSES = {
    "power cut while recording": 1.2,
    "pulled, and the power cut 5 s later": 1.2,
    "pulled, and the box's card full too": 60.0,
}
"""Seconds that may be missing at the end; the last take ends with a word, and what there was room for is kept."""
SILENT = {"none", "power cut while recording"}


@pytest.mark.parametrize("fault", FAULTS)
def test_what_was_heard_is_kept_and_every_fault_has_its_words(fault: str) -> None:
    kept = suffer(fault)
    assert kept.exact
    assert 0 <= kept.missing_s <= LOSES.get(fault, 0.0)
    assert bool(kept.shown) == (fault not in SILENT)
    general = line_of("error")
    assert general not in kept.shown


def test_the_table_that_is_quoted_has_all_faults() -> None:
    rows = json.loads(RESULTS.read_text(encoding="utf-8"))["rows"]
    assert [row["fault"] for row in rows] == list(FAULTS)
    assert all(row["exact"] for row in rows)


def test_the_readme_quotes_the_table() -> None:
    rows = json.loads(RESULTS.read_text(encoding="utf-8"))["rows"]
    quoted = table([Kept(**{**row, "shown": tuple(row["shown"])}) for row in rows])
    assert quoted in (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
