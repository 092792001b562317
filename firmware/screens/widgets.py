"""Pieces that several pages draw: a value that the cursor may stand on, a labelled line, a level bar."""

from __future__ import annotations

from firmware.screens.fields import BY_NAME
from firmware.screens.font import Font
from firmware.screens.fonts import SMALL
from firmware.screens.raster import DARK, LIT, Align, Box, Canvas
from firmware.screens.view import View

LOWEST_DB = -60.0
"""Level at which a level bar is empty."""


def value(
    canvas: Canvas, view: View, name: str, box: Box, font: Font = SMALL, align: Align = Align.LEFT, text: str = ""
) -> None:
    """A field's value in its place; inverted while the cursor is on it."""
    shown = text or BY_NAME[name].write(view)
    chosen = view.cursor == name
    if chosen:
        wide = min(font.width(shown), box.width)
        x = box.x if align is Align.LEFT else box.right - wide
        canvas.fill(Box(x - 2, box.y - 1, wide + 4, font.rise + 2 + min(1, font.depth(shown))))
    canvas.text(box.x, box.y, shown, font, box.width, align, DARK if chosen else LIT)


def line(canvas: Canvas, view: View, name: str, box: Box) -> None:
    """A labelled line: the label at the left, the value at the right."""
    label = BY_NAME[name].label
    end = canvas.text(box.x, box.y, label, SMALL, box.width)
    left = end + 4
    value(canvas, view, name, Box(left, box.y, box.right - left, box.height), align=Align.RIGHT)


def lines(canvas: Canvas, view: View, places: tuple[tuple[str, Box], ...]) -> None:
    """Several labelled lines."""
    for name, box in places:
        line(canvas, view, name, box)


def level_bar(canvas: Canvas, box: Box, peak_db: float, mean_db: float) -> None:
    """A level: filled up to the mean, a single stroke at the peak; the right end is full scale."""
    canvas.across(box.x, box.right - 1, box.bottom - 1, step=3)
    canvas.fill(Box(box.x, box.y, share(mean_db, box.width), box.height - 2))
    stroke = share(peak_db, box.width)
    if stroke:
        canvas.down(box.x + stroke - 1, box.y, box.bottom - 3)


def share(level_db: float, columns: int) -> int:
    """Columns that a level fills."""
    part = 1 - max(LOWEST_DB, min(0.0, level_db)) / LOWEST_DB
    return round(part * columns)
