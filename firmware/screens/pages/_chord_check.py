"""The ear page while chords are checked: a column for each degree, its pitch as a rung that is longer the louder."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from firmware.screens.fields import signed
from firmware.screens.fonts import SMALL
from firmware.screens.page import BOTTOM, LEFT, PITCH, RIGHT, TOP
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import ChordLine, View

CHART: Final = Box(LEFT, TOP + PITCH + 1, RIGHT - LEFT, BOTTOM - TOP - PITCH - 3)
SPAN: Final = 30.0
"""Cents shown on each side of the target; what lies further off stands at the edge."""

GRID: Final = 10
LABEL: Final = 13
"""Columns kept for the name of a degree."""

STEPS: Final = 3
GAP: Final = 4
"""Columns between two degrees."""

FEWEST: Final = 3
"""Columns are no wider than for so many degrees."""

WORDS: Final[Mapping[str, str]] = {
    "can't be heard apart": "hidden",
    "not heard": "silent",
    "partials disagree": "mixed",
}
"""Why a degree has no number, short enough for its column."""


def draw_chord(canvas: Canvas, view: View) -> None:
    """Name of the chord, a column for each degree, the cents under them."""
    canvas.text(LEFT, TOP, SMALL.first_that_fits(names(view.checked), RIGHT - LEFT), SMALL, RIGHT - LEFT)
    count = max(FEWEST, len(view.checked_degrees))
    wide = (RIGHT - LEFT) // count
    tolerance = float(view.values.get("tolerance", 0))
    for number, line in enumerate(view.checked_degrees):
        draw_degree(canvas, line, Box(LEFT + number * wide, CHART.y, wide - GAP, CHART.height), tolerance)


def names(chord: str) -> tuple[str, ...]:
    """The name of a chord, and shorter ways to write it."""
    short = chord.replace("half-diminished", "half-dim.").replace("diminished", "dim.")
    shorter = short.replace("dominant ", "dom. ").replace("augmented", "aug.")
    return chord, short, shorter, chord.split(" ", maxsplit=1)[0]


def draw_degree(canvas: Canvas, line: ChordLine, box: Box, tolerance: float) -> None:
    """One degree: its target as a dotted rung, what was heard as a thick one, sharp above, flat below."""
    left = box.x + LABEL
    right = box.right - 1
    for cents in range(-int(SPAN) + GRID, int(SPAN), GRID):
        canvas.across(left, right, row_of(box, cents), step=2 if cents == 0 else 6)
    canvas.text(box.x, row_of(box, 0.0) - SMALL.rise // 2, line.degree, SMALL, LABEL)
    canvas.down(left - 2, row_of(box, tolerance), row_of(box, -tolerance))
    if line.cents is None:
        canvas.text(box.x, BOTTOM, WORDS.get(line.why, line.why), SMALL, box.width, Align.RIGHT)
        return
    length = max(2, (right - left + 1) * line.level // STEPS)
    canvas.fill(Box(left, row_of(box, line.cents) - 1, length, 3))
    canvas.text(box.x, BOTTOM, signed(round(line.cents)), SMALL, box.width, Align.RIGHT)


def row_of(box: Box, cents: float) -> int:
    """Row of a pitch, or the row at the edge beyond which it lies."""
    part = max(-SPAN, min(SPAN, cents)) / SPAN
    return box.y + round((1 - part) / 2 * (box.height - 3)) + 1
