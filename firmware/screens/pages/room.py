"""The room page: pitch standard, large; tuning, what Compare sounds, level of the drone."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import BY_NAME, written
from firmware.screens.fonts import LARGE, SMALL
from firmware.screens.page import BOTTOM, LEFT, PITCH, RIGHT, TOP, Page, row
from firmware.screens.raster import Box, Canvas
from firmware.screens.view import View

STANDARD: Final = Box(LEFT + 2, TOP - 1, 78, LARGE.rise)
LINES: Final = (
    ("tuning", row(BOTTOM - 2 * PITCH)),
    ("compare_with", row(BOTTOM - PITCH)),
    ("drone_level", row(BOTTOM)),
)


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    widgets.value(canvas, view, "a4", STANDARD, LARGE)
    unit = STANDARD.x + LARGE.width(written(view, "a4")) + 6
    canvas.text(unit, TOP, BY_NAME["a4"].label, SMALL, RIGHT - unit)
    canvas.text(unit, TOP + 14, "Hz", SMALL, RIGHT - unit)
    widgets.lines(canvas, view, LINES)


PAGE: Final = Page("room", "Room", draw)
