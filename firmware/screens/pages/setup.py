"""The setup page: room on the stick, large; the plan; order of the tonics on the knob; brightness."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fonts import LARGE, SMALL
from firmware.screens.page import LEFT, RIGHT, TOP, Page
from firmware.screens.raster import Box, Canvas
from firmware.screens.view import View

LINES: Final = (("knob_order", TOP + 30), ("brightness", TOP + 40))


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    if view.stick:
        end = canvas.text(LEFT, TOP, str(view.free_minutes), LARGE, 70)
        canvas.text(end + 5, TOP + 4, "minutes", SMALL, RIGHT - end - 5)
        canvas.text(end + 5, TOP + 15, "left on stick", SMALL, RIGHT - end - 5)
    else:
        canvas.text(LEFT, TOP + 8, "no stick", SMALL, RIGHT - LEFT)
    for name, top in LINES:
        widgets.line(canvas, view, name, Box(LEFT, top, RIGHT - LEFT, SMALL.height))


PAGE: Final = Page("setup", "Setup", draw)
