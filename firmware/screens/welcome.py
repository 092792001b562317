"""The first picture: on the glass from the first second after power-on until the box itself shows its own."""

from __future__ import annotations

from typing import Final

from firmware.screens.fonts import MIDDLE, SMALL
from firmware.screens.frame import WIDTH, Frame
from firmware.screens.page import BOTTOM, LEFT, RIGHT
from firmware.screens.raster import Align, Canvas

NAME: Final = "Keelnote"
WORDS: Final = "is starting"

NAME_TOP: Final = 14
LINE_TOP: Final = NAME_TOP + 22
"""Row of the line under the name."""


def paint_welcome() -> Canvas:
    """Paint it; the canvas also knows which texts did not fit."""
    canvas = Canvas()
    canvas.text(LEFT, NAME_TOP, NAME, MIDDLE, RIGHT - LEFT, Align.MIDDLE)
    canvas.across(WIDTH // 4, WIDTH - WIDTH // 4, LINE_TOP)
    canvas.text(LEFT, BOTTOM - 10, WORDS, SMALL, RIGHT - LEFT, Align.MIDDLE)
    return canvas


def welcome() -> Frame:
    """The picture."""
    return paint_welcome().done()
