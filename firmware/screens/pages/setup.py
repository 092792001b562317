"""The setup page: room on the stick, large; order of the tonics on the knob; light; letting the stick go."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import room_text
from firmware.screens.fonts import LARGE, SMALL
from firmware.screens.page import BOTTOM, LEFT, PITCH, RIGHT, TOP, Page, row
from firmware.screens.raster import Canvas
from firmware.screens.view import View

MORE: Final = (
    "keyboard_follows",
    "keyboard_level",
    "tuning_out",
    "sound_card",
    "note_names",
    "degree_names",
    "screen_rest",
    "stick_release",
)
"""Fields that show while the cursor is on them."""

LINES: Final = (("knob_order", row(BOTTOM - PITCH - 1)), ("brightness", row(BOTTOM)))


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    if view.stick:
        number, unit = room_text(view.free_minutes)
        beside = canvas.text(LEFT, TOP, number, LARGE, 68) + 5
        canvas.text(beside, TOP, unit, SMALL, RIGHT - beside)
        canvas.text(beside, TOP + 15, "left on stick", SMALL, RIGHT - beside)
    else:
        words = "stick may be pulled" if view.stick_released else "no stick"
        canvas.text(LEFT, TOP + 8, words, SMALL, RIGHT - LEFT)
    if view.cursor in MORE:
        widgets.line(canvas, view, view.cursor, row(BOTTOM))
    else:
        widgets.lines(canvas, view, LINES)


PAGE: Final = Page("setup", "Setup", draw)
