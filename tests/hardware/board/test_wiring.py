"""The page that builders read holds what the board file says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from hardware.board.header import GROUNDS, HEADER
from hardware.board.table import VARIANTS, own_board
from hardware.board.wiring import BLOCK, at_places, drawings_of, pin_table, renewed

PAGE = Path(__file__).parents[3] / "hardware" / "board" / "WIRING.md"
A, B = (own_board(name) for name in VARIANTS)


def test_the_page_holds_the_tables_of_our_board() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert renewed(page, drawings_of(A, B)) == page, "run python -m tests.generate"


def test_the_page_has_every_table_once() -> None:
    assert BLOCK.findall(PAGE.read_text(encoding="utf-8")) == [f"{name} " for name in drawings_of(A, B)]


def test_a_moved_key_makes_the_page_stale() -> None:
    moved = replace(A, power=replace(A.power, pin=8))
    page = PAGE.read_text(encoding="utf-8")
    assert renewed(page, drawings_of(moved, B)) != page


def test_the_pin_table_names_every_place_and_what_is_on_it() -> None:
    lines = pin_table(A, B).splitlines()[2:]
    assert len(lines) == 40
    assert [number for number, line in enumerate(lines, start=1) if "| ground |" in line] == sorted(GROUNDS)
    assert "GPIO 13 | key Pulse: S3.1" in lines[HEADER[13] - 1]
    assert "free | kept for I2S" in lines[HEADER[20] - 1]


def test_places_with_one_use_are_told_from_those_that_serve_many() -> None:
    assert set(at_places(A)) == {HEADER[pin] for _, pin in A.all_pins} | {3, 5}


def test_a_table_that_nobody_draws_is_an_error() -> None:
    with pytest.raises(KeyError):
        renewed("<!-- drawn: gone -->\n<!-- end -->", {})
