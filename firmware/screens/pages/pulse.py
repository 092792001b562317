"""The pulse page: the beat, large enough to see from the players' side of the stand, tempo and meter."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fonts import HUGE, LARGE, SMALL
from firmware.screens.page import BOTTOM, LEFT, RIGHT, TOP, Page
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

BEAT: Final = Box(LEFT, TOP, 50, HUGE.rise)
TEMPO: Final = Box(56, TOP, RIGHT - 56 - 2, LARGE.rise)


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    if view.pulse_on:
        canvas.text(BEAT.x, BEAT.y, str(view.beat), HUGE, BEAT.width, Align.MIDDLE)
        canvas.text(TEMPO.x, TOP + 26, f"bar {view.bar}", SMALL, TEMPO.width, Align.RIGHT)
    else:
        canvas.text(BEAT.x, BEAT.y + 12, "click off", SMALL, BEAT.width, Align.MIDDLE)
    widgets.value(canvas, view, "tempo", TEMPO, LARGE, Align.RIGHT, f"{view.tempo:g}")
    draw_bar(canvas, view)
    half = (RIGHT - LEFT) // 2
    widgets.line(canvas, view, "beats", Box(LEFT, BOTTOM, 42, SMALL.height))
    widgets.line(canvas, view, "pulse_level", Box(half, BOTTOM, RIGHT - half, SMALL.height))


def draw_bar(canvas: Canvas, view: View) -> None:
    """One cell a beat; the cell of the beat that sounds is filled."""
    beats = max(1, view.beats)
    wide = min(16, (RIGHT - LEFT + 2) // beats - 2)
    for beat in range(1, beats + 1):
        box = Box(LEFT + (beat - 1) * (wide + 2), BOTTOM - 6, wide, 3)
        if view.pulse_on and beat == view.beat:
            canvas.fill(box)
        else:
            canvas.across(box.x, box.right - 1, box.bottom - 1)


PAGE: Final = Page("pulse", "Pulse", draw)
