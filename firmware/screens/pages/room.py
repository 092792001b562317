"""The room page: pitch standard, large, beside the level of the room; below, three of its other fields at a time."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import BY_NAME, NOTHING, signed, written
from firmware.screens.fonts import LARGE, MIDDLE, SMALL
from firmware.screens.page import BOTTOM, LEFT, PITCH, RIGHT, TOP, Page, row
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

STANDARD: Final = Box(LEFT + 2, TOP - 1, 78, LARGE.rise)
LINES: Final = (
    *("tuning", "compare_with", "drone_level", "level_offset", "room_check", "temperature"),
    *("own_tone", "own_cents", "own_name"),
)
"""Fields that are shown in lines."""

SILENT_DB: Final = -119.0
"""A level under this is none."""

SHOWN: Final = 3
"""Lines that there is room for; they move so that the one under the cursor is among them."""


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    widgets.value(canvas, view, "a4", STANDARD, LARGE)
    unit = STANDARD.x + LARGE.width(written(view, "a4")) + 6
    canvas.text(unit, TOP, BY_NAME["a4"].label, SMALL, RIGHT - unit)
    canvas.text(unit, TOP + 14, "Hz", SMALL, RIGHT - unit)
    draw_level(canvas, view)
    names = shown(view.cursor)
    widgets.lines(canvas, view, tuple((name, row(BOTTOM - (SHOWN - 1 - i) * PITCH)) for i, name in enumerate(names)))


def draw_level(canvas: Canvas, view: View) -> None:
    """The level of the room at the right edge, with its unit; a dash until it was measured."""
    known = view.sound_db > SILENT_DB
    number = signed(round(view.sound_db)) if not view.calibrated else f"{round(view.sound_db)}"
    left = STANDARD.x + LARGE.width(written(view, "a4")) + 6 + SMALL.width("Hz") + 6
    room = RIGHT - left
    text = number if known else NOTHING
    font = MIDDLE if known and MIDDLE.width(text) <= room else SMALL
    canvas.text(left, TOP - 2, text, font, room, Align.RIGHT)
    canvas.text(left, TOP + 14, "dB(A)" if view.calibrated else "dBFS", SMALL, room, Align.RIGHT)


def shown(cursor: str) -> tuple[str, ...]:
    """The fields in the lines: the first three, or as far on as the cursor needs."""
    last = max(SHOWN, LINES.index(cursor) + 1) if cursor in LINES else SHOWN
    return LINES[last - SHOWN : last]


PAGE: Final = Page("room", "Room", draw)
