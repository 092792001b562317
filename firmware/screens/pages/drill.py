"""The drill page: which drill, for whom, how; while one is under way only a quiet word, and nothing that is heard."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import fields_of
from firmware.screens.fonts import MIDDLE, SMALL
from firmware.screens.page import BOTTOM, LEFT, PITCH, RIGHT, TOP, Page, row
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

TITLE: Final = Box(LEFT + 2, TOP - 1, RIGHT - LEFT - 4, MIDDLE.rise)
LINES: Final = tuple(name for name in fields_of("drill") if name != "chosen_drill")
"""Fields that are shown in lines."""

SHOWN: Final = 3
"""Lines that there is room for; they move so that the one under the cursor is among them."""

WORD: Final = TOP + 4
UNDER: Final = WORD + MIDDLE.rise + 5
ROOM: Final = RIGHT - LEFT


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    if view.drill.running:
        draw_quiet(canvas, view)
        return
    widgets.value(canvas, view, "chosen_drill", TITLE, MIDDLE)
    names = shown(view.cursor)
    widgets.lines(canvas, view, tuple((name, row(BOTTOM - (SHOWN - 1 - i) * PITCH)) for i, name in enumerate(names)))
    if view.drill.big:
        told = f"last: {view.drill.big}, {view.drill.small}"
        canvas.text(LEFT, TITLE.bottom + 1, SMALL.cut(told, ROOM), SMALL, ROOM)


def draw_quiet(canvas: Canvas, view: View) -> None:
    """A word for the class, what it may say, for whom it is, and how far it has come."""
    drill = view.drill
    canvas.text(LEFT, WORD, MIDDLE.cut(drill.big, ROOM), MIDDLE, ROOM, Align.MIDDLE)
    canvas.text(LEFT, UNDER, SMALL.cut(drill.small, ROOM), SMALL, ROOM, Align.MIDDLE)
    place = f"{drill.place} of {drill.rounds}"
    wide = SMALL.width(place)
    canvas.text(RIGHT - wide, BOTTOM, place, SMALL, wide)
    canvas.text(LEFT, BOTTOM, SMALL.cut(drill.group, ROOM - wide - 6), SMALL, ROOM - wide - 6)


def shown(cursor: str) -> tuple[str, ...]:
    """The fields in the lines: the first three, or as far on as the cursor needs."""
    last = max(SHOWN, LINES.index(cursor) + 1) if cursor in LINES else SHOWN
    return LINES[last - SHOWN : last]


PAGE: Final = Page("drill", "Drill", draw)
