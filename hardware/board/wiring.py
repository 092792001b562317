"""The wiring of a board as a table for a person with a soldering iron, drawn from the board file."""

from __future__ import annotations

from typing import Final

from hardware.board.table import Board

HEADER: Final = (
    (27, 28, 3, 5, 7, 29, 31, 26, 24, 21, 19, 23, 32, 33, 8, 10, 36, 11, 12, 35, 38, 40, 15, 16, 18, 22, 37, 13)
)  # fmt: skip
"""Place on the 40-way header of GPIO 0 to 27."""

GROUNDS: Final = (6, 9, 14, 20, 25, 30, 34, 39)
"""Places of the header that are ground."""

SCREEN: Final = (("screen VCC (3.3 V)", "3.3 V", 1), ("screen SDA", "GPIO 2", 3), ("screen SCL", "GPIO 3", 5))


def wiring(board: Board) -> str:
    """A Markdown table: what, which GPIO, which place on the header, in the order of the header."""
    rows = [(name, f"GPIO {pin}", HEADER[pin]) for name, pin in board.pins]
    rows += SCREEN
    rows.sort(key=lambda row: row[2])
    lines = [f"| {name} | {gpio} | {place} |" for name, gpio, place in rows]
    return "\n".join(["| wire | pin | place on the header |", "| --- | --- | --- |", *lines])
