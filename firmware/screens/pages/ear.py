"""The ear page: the ladder with the trail of what is heard, and the cents from its rung, large."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import signed
from firmware.screens.fonts import LARGE, MIDDLE, SMALL
from firmware.screens.ladder import draw_ladder
from firmware.screens.page import BOTTOM, LEFT, RIGHT, TOP, Page
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import HeardNote, View

LADDER: Final = Box(LEFT, TOP, 68, 49)
COLUMN: Final = LADDER.right + 7
ROOM: Final = RIGHT - COLUMN


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    draw_ladder(canvas, view, LADDER)
    if view.heard is None:
        draw_quiet(canvas, view)
    else:
        draw_heard(canvas, view, view.heard)


def draw_quiet(canvas: Canvas, view: View) -> None:
    """What the ear does, why it reads nothing, and what counts as in tune."""
    canvas.text(COLUMN, TOP, f"ear: {view.ear}", SMALL, ROOM)
    if view.ear != "off":
        canvas.text(COLUMN, TOP + 13, view.silence or "listening", SMALL, ROOM)
    draw_tolerance(canvas, view)


def draw_heard(canvas: Canvas, view: View, heard: HeardNote) -> None:
    """Cents from the rung, the note as the section reads it, beats per second."""
    canvas.text(COLUMN, TOP, signed(round(heard.off)), LARGE, ROOM, Align.RIGHT)
    note = heard.written if view.badge else heard.note
    canvas.text(COLUMN, TOP + 24, note, MIDDLE, ROOM, Align.RIGHT)
    if heard.beats is None or view.cursor == "tolerance":
        draw_tolerance(canvas, view)
    else:
        canvas.text(COLUMN, BOTTOM, f"{heard.beats:.1f} beats/s", SMALL, ROOM, Align.RIGHT)


def draw_tolerance(canvas: Canvas, view: View) -> None:
    """How close counts as in tune."""
    widgets.line(canvas, view, "tolerance", Box(COLUMN, BOTTOM, ROOM, SMALL.height))


PAGE: Final = Page("ear", "Ear", draw)
