"""The chord page: the ladder, the chord or its root, and the field under the cursor; else the notes that sound."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import chord_root, drift_text, fields_of, shape_title
from firmware.screens.fonts import LARGE, MIDDLE, SMALL
from firmware.screens.ladder import draw_octave
from firmware.screens.page import BOTTOM, LEFT, RIGHT, TOP, Page, row
from firmware.screens.raster import Box, Canvas
from firmware.screens.view import View

LADDER: Final = Box(LEFT, TOP, 56, 38)
COLUMN: Final = LADDER.right + 6
ROOM: Final = RIGHT - COLUMN


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    draw_octave(canvas, view, LADDER)
    name = view.moving or chord_root(view)
    font = next((font for font in (LARGE, MIDDLE) if font.width(name) <= ROOM), SMALL)
    canvas.text(COLUMN, TOP, name, font, ROOM)
    below = drift_text(view.drift) if view.moving else shape_title(str(view.values.get("shape", "")))
    canvas.text(COLUMN, TOP + 27, below, SMALL, ROOM)
    place = row(BOTTOM)
    if view.cursor in fields_of("chord"):
        widgets.line(canvas, view, view.cursor, place)
    else:
        canvas.text(place.x, place.y, notes(view, place.width), SMALL, place.width)


def notes(view: View, room: int) -> str:
    """As many of the sounding notes from the lowest up as there is room for."""
    if not view.chord:
        return "no notes"
    shown = ""
    for index, note in enumerate(view.chord):
        longer = f"{shown}  {note}" if shown else note
        more = "" if index == len(view.chord) - 1 else " …"
        if SMALL.width(longer + more) > room:
            return f"{shown} …"
        shown = longer
    return shown


PAGE: Final = Page("chord", "Chord", draw)
