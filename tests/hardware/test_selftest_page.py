"""The page of the self-test holds what the board file and the self-test say."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from firmware.selftest.kinds import KINDS
from hardware.board.table import own_board
from hardware.board.wiring import BLOCK, renewed
from hardware.selftest_page import drawings_of

PAGE = Path(__file__).parents[2] / "hardware" / "board" / "SELFTEST.md"
BOARD = own_board()


def test_the_page_is_up_to_date() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert renewed(page, drawings_of(BOARD)) == page, "run python -m tests.generate"
    assert [name.strip() for name in BLOCK.findall(page)] == list(drawings_of(BOARD))


def test_a_moved_key_or_another_resistor_makes_it_stale() -> None:
    page = PAGE.read_text(encoding="utf-8")
    moved = replace(BOARD, power=replace(BOARD.power, pin=8))
    weaker = replace(BOARD, pedals=replace(BOARD.pedals, pull_up=4_700.0))
    for changed in (moved, weaker):
        assert renewed(page, drawings_of(changed)) != page


def test_every_fault_and_every_contact_is_on_it() -> None:
    drawn = drawings_of(BOARD)
    assert drawn["faults"].count("\n") == len(KINDS) + 1
    assert all(f"| {name} |" in drawn["contacts"] for name, _ in BOARD.contacts)
    assert "Press Drone, hold for a second" in drawn["steps"]
