"""The room page: pitch standard, large; tuning, what Compare sounds, level of the drone."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import BY_NAME
from firmware.screens.fonts import LARGE, SMALL
from firmware.screens.page import LEFT, RIGHT, TOP, Page
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

STANDARD: Final = Box(28, TOP, 78, LARGE.rise)
LINES: Final = (("tuning", TOP + 25), ("compare_with", TOP + 33), ("drone_level", TOP + 41))


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    canvas.text(LEFT, TOP + 15, BY_NAME["a4"].label, SMALL, 20)
    widgets.value(canvas, view, "a4", STANDARD, LARGE, Align.RIGHT)
    canvas.text(STANDARD.right + 5, TOP + 15, "Hz", SMALL, RIGHT - STANDARD.right - 5)
    for name, top in LINES:
        widgets.line(canvas, view, name, Box(LEFT, top, RIGHT - LEFT, SMALL.height))


PAGE: Final = Page("room", "Room", draw)
