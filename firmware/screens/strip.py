"""The message strip: one or two lines that pass over the bottom of any page."""

from __future__ import annotations

from typing import Final

from firmware.screens.fonts import SMALL
from firmware.screens.frame import HEIGHT, WIDTH
from firmware.screens.raster import DARK, Box, Canvas

LINE: Final = 10
"""Rows from one line to the next."""

ROOM: Final = WIDTH - 6
"""Columns for the text of one line."""

MOST_LINES: Final = 2


def lines_of(message: str) -> tuple[str, ...]:
    """A message in lines, broken at spaces where it must be."""
    lines: list[str] = []
    for word in message.split():
        if lines and SMALL.width(f"{lines[-1]} {word}") <= ROOM:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return tuple(lines)


def draw_strip(canvas: Canvas, message: str) -> None:
    """Draw the strip; what needs more lines than there are is cut."""
    lines = lines_of(message)
    shown = [*lines[: MOST_LINES - 1], " ".join(lines[MOST_LINES - 1 :])] if len(lines) > MOST_LINES else list(lines)
    top = HEIGHT - LINE * len(shown) - 1
    canvas.fill(Box(0, top - 1, WIDTH, 1), DARK)
    canvas.fill(Box(0, top, WIDTH, HEIGHT - top))
    for number, text in enumerate(shown):
        canvas.text(3, top + 1 + number * LINE, text, SMALL, ROOM, ink=DARK)
