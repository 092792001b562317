"""The net list: every terminal is joined once, and no two wires meet that should not."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from hardware.board.header import HEADER
from hardware.board.nets import HEADER_MARK, Net, Terminal, nets_of, ohms, parts_of
from hardware.board.parts import Board
from hardware.board.table import VARIANTS, own_board

A, B = (own_board(name) for name in VARIANTS)
WHOLE = replace(B, clock=replace(B.clock, fitted=True))
ON_SPI = replace(A, screen=replace(A.screen, interface="spi"), clock=replace(A.clock, fitted=True))

BOARDS = pytest.mark.parametrize("board", [A, B, WHOLE, ON_SPI], ids=["A", "B", "with clock", "on SPI"])


def net(board: Board, name: str) -> Net:
    """A net by its name."""
    (found,) = [one for one in nets_of(board) if one.name == name]
    return found


@BOARDS
def test_every_terminal_is_in_one_net_and_all_of_them_exist(board: Board) -> None:
    joined = Counter(terminal for one in nets_of(board) for terminal in one.terminals)
    assert [terminal for terminal, count in joined.items() if count > 1] == []
    there = {Terminal(part.mark, name) for part in parts_of(board) for name in part.terminals}
    assert set(joined) <= there
    assert {terminal for terminal in there if terminal.part != HEADER_MARK} <= set(joined)


@BOARDS
def test_every_net_joins_something_and_marks_are_of_one_part_each(board: Board) -> None:
    assert [one.name for one in nets_of(board) if len(one.terminals) < 2] == []
    marks = [part.mark for part in parts_of(board)]
    assert len(marks) == len(set(marks))


@BOARDS
def test_every_pin_of_the_board_is_wired(board: Board) -> None:
    wired = {terminal.name for one in nets_of(board) for terminal in one.terminals if terminal.part == HEADER_MARK}
    assert {str(HEADER[pin]) for _, pin in board.all_pins} <= wired


def test_a_pedal_has_its_parts_on_the_side_of_the_pin() -> None:
    assert [str(end) for end in net(A, "left pedal").terminals] == ["H1.16", "R1.1", "R2.1", "C1.1"]
    assert [str(end) for end in net(A, "left tip").terminals] == ["R1.2", "J1.tip"]


def test_the_clock_shares_the_bus_of_the_screen() -> None:
    assert [str(end) for end in net(WHOLE, "SDA").terminals] == ["H1.3", "U1.SDA", "U2.SDA"]
    assert [str(end) for end in net(ON_SPI, "SDA").terminals] == ["H1.3", "U2.SDA"]


def test_only_variant_b_has_a_dac() -> None:
    assert "U3" in {part.mark for part in parts_of(B)} - {part.mark for part in parts_of(A)}


def test_resistances_are_written_as_in_parts_lists() -> None:
    assert [ohms(value) for value in (680.0, 1000.0, 4700.0)] == ["680 ohm", "1 kilohm", "4.7 kilohm"]
