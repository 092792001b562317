"""The tables as text: DEVELOPERS.md shows what the program does."""

from __future__ import annotations

from pathlib import Path

from firmware.screens.diagram import gesture_table, key_table, page_order, page_table, panel_text, table
from firmware.screens.fields import FIELDS
from firmware.screens.gestures import RULES
from firmware.screens.meanings import GESTURES

DEVELOPERS = Path(__file__).parents[3] / "DEVELOPERS.md"


def test_a_table_is_markdown() -> None:
    assert table(("a", "b"), [("1", "2")]) == "| a | b |\n| --- | --- |\n| 1 | 2 |"


def test_every_row_of_every_table_is_drawn() -> None:
    assert len(gesture_table().splitlines()) == len(GESTURES) + 2
    assert len(key_table().splitlines()) == len(RULES) + 2
    assert all(f"`{field.name}`" in page_table() for field in FIELDS)
    assert page_order().split(" → ")[0] == page_order().split(" → ")[-1] == "Key"
    assert all(part in panel_text() for part in (gesture_table(), page_table(), key_table(), page_order()))


def test_the_document_shows_the_tables_as_they_are() -> None:
    assert panel_text() in DEVELOPERS.read_text(encoding="utf-8")
