"""The tables as text: DEVELOPERS.md shows what the program does."""

from __future__ import annotations

from pathlib import Path

from firmware.screens.diagram import (
    BEGIN,
    END,
    gesture_table,
    key_table,
    page_order,
    page_table,
    panel_text,
    renewed,
    table,
)
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
    document = DEVELOPERS.read_text(encoding="utf-8")
    assert panel_text() in document, "run python -m tests.generate"
    assert renewed(document) == document


def test_old_tables_are_replaced_and_the_rest_is_kept() -> None:
    new = renewed(f"before\n{BEGIN}\nold\n{END}\nafter\n")
    assert new == f"before\n{BEGIN}\n{panel_text()}{END}\nafter\n"
    assert renewed(new) == new


def test_a_document_without_a_place_stays_as_it_is() -> None:
    for document in ("", "text", f"{BEGIN}\nno end", f"no begin\n{END}"):
        assert renewed(document) == document
