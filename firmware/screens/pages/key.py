"""The key page: the tonic, large; beside it mode, octave and what sounds; whose pitch is read below."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import TONIC, shape_title
from firmware.screens.fonts import HUGE, SMALL
from firmware.screens.page import BOTTOM, LEFT, RIGHT, TOP, Page, row
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

FRAME: Final = Box(LEFT, TOP, 53, HUGE.rise + 6)
COLUMN: Final = FRAME.right + 7
ROOM: Final = RIGHT - COLUMN
LINES: Final = (TOP + 3, TOP + 15, TOP + 27)


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    if view.cursor == TONIC:
        canvas.frame(FRAME)
    canvas.text(FRAME.x + 3, FRAME.y + 3, view.tonic, HUGE, FRAME.width - 6, Align.MIDDLE)
    widgets.value(canvas, view, "mode", row(LINES[0], COLUMN))
    widgets.line(canvas, view, "octave", row(LINES[1], COLUMN))
    sounds = shape_title(str(view.values.get("shape", "sounding"))) if view.drone_on else "silent"
    canvas.text(COLUMN, LINES[2], sounds, SMALL, ROOM)
    widgets.line(canvas, view, "reading", row(BOTTOM))


PAGE: Final = Page("key", "Key", draw)
