"""The key page: the tonic, large; beside it mode, octave and what sounds; whose pitch is read below."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import TONIC, shape_title
from firmware.screens.fonts import HUGE, LARGE, MIDDLE, SMALL
from firmware.screens.page import BOTTOM, LEFT, RIGHT, TOP, Page, row
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

FRAME: Final = Box(LEFT, TOP, 53, HUGE.rise + 6)
TONIC_ROOM: Final = FRAME.width - 2
FONTS: Final = (HUGE, LARGE, MIDDLE)
"""The tonic takes the largest in which its name has room."""

COLUMN: Final = FRAME.right + 7
ROOM: Final = RIGHT - COLUMN
LINES: Final = (TOP + 3, TOP + 15, TOP + 27)


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    if view.cursor == TONIC:
        canvas.frame(FRAME)
    font = next((font for font in FONTS if font.width(view.tonic) <= TONIC_ROOM), SMALL)
    lower = (HUGE.rise - font.rise) // 2
    canvas.text(FRAME.x + 1, FRAME.y + 3 + lower, view.tonic, font, TONIC_ROOM, Align.MIDDLE)
    widgets.value(canvas, view, "mode", row(LINES[0], COLUMN))
    widgets.line(canvas, view, "octave", row(LINES[1], COLUMN))
    sounds = shape_title(str(view.values.get("shape", "sounding"))) if view.drone_on else "silent"
    canvas.text(COLUMN, LINES[2], sounds, SMALL, ROOM)
    widgets.line(canvas, view, "reading", row(BOTTOM))


PAGE: Final = Page("key", "Key", draw)
