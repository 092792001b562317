"""The ear page: the ladder with the trail of what is heard, and the cents from its rung, large."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import fields_of, signed
from firmware.screens.fonts import LARGE, MIDDLE, SMALL
from firmware.screens.ladder import draw_ladder
from firmware.screens.page import BOTTOM, LEFT, RIGHT, TOP, Page, row
from firmware.screens.pages._chord_check import draw_chord
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import HeardNote, View

LADDER: Final = Box(LEFT, TOP, 63, 49)
COLUMN: Final = LADDER.right + 6
ROOM: Final = RIGHT - COLUMN

WORDS: Final[Mapping[str, str]] = {"off": "ear off", "watch": "watching", "answer": "answering"}
"""What the ear does, in words for a reader; any other name is its own word."""


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    if view.ear == "chord check" and view.checked:
        draw_chord(canvas, view)
        return
    draw_ladder(canvas, view, LADDER)
    if view.heard is None:
        draw_quiet(canvas, view)
    else:
        draw_heard(canvas, view, view.heard)


def draw_quiet(canvas: Canvas, view: View) -> None:
    """What the ear does, why it reads nothing, and a field."""
    canvas.text(COLUMN, TOP, WORDS.get(view.ear, view.ear), SMALL, ROOM)
    if view.ear != "off":
        canvas.text(COLUMN, TOP + 13, view.silence or "listening", SMALL, ROOM)
    draw_field(canvas, view)


def draw_heard(canvas: Canvas, view: View, heard: HeardNote) -> None:
    """Cents from the rung, the note as the section reads it, the answer to it or beats per second."""
    canvas.text(COLUMN, TOP, signed(round(heard.off)), LARGE, ROOM, Align.RIGHT)
    note = heard.written if view.badge else heard.note
    font = MIDDLE if MIDDLE.width(note) <= ROOM else SMALL
    canvas.text(COLUMN, TOP + 24 + MIDDLE.rise - font.rise, note, font, ROOM, Align.RIGHT)
    if view.cursor in fields_of("ear"):
        draw_field(canvas, view)
    elif view.answering:
        answer = SMALL.first_that_fits((f"answer {view.answering}", f"to {view.answering}"), ROOM)
        canvas.text(COLUMN, BOTTOM, answer, SMALL, ROOM, Align.RIGHT)
    elif heard.spread is not None:
        canvas.text(COLUMN, BOTTOM, f"spread {heard.spread:.0f}", SMALL, ROOM, Align.RIGHT)
    elif heard.beats is None:
        draw_field(canvas, view)
    else:
        canvas.text(COLUMN, BOTTOM, beats_text(heard.beats), SMALL, ROOM, Align.RIGHT)


def beats_text(beats: float) -> str:
    """Beats per second; above ten they are no longer counted by ear, so tenths say nothing."""
    return f"{beats:.1f} beats/s" if beats < 10 else f"{beats:.0f} beats/s"


def draw_field(canvas: Canvas, view: View) -> None:
    """The field under the cursor, else how close counts as in tune."""
    name = view.cursor if view.cursor in fields_of("ear") else "tolerance"
    widgets.line(canvas, view, name, row(BOTTOM, COLUMN))


PAGE: Final = Page("ear", "Ear", draw)
