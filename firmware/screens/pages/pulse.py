"""The pulse page: the beat, large enough to see from the players' side of the stand, tempo and meter."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import tempo_text
from firmware.screens.fonts import HUGE, LARGE, SMALL
from firmware.screens.page import BOTTOM, LEFT, RIGHT, TOP, Page, row
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

BEAT: Final = Box(LEFT, TOP, 44, HUGE.rise)
TEMPO: Final = Box(50, TOP, RIGHT - 50 - 2, LARGE.rise)
MIDDLE: Final = 64


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    if view.pulse_on:
        canvas.text(BEAT.x, BEAT.y, str(view.beat), HUGE, BEAT.width, Align.MIDDLE)
        canvas.text(TEMPO.x, TOP + 25, f"bar {view.bar}", SMALL, TEMPO.width, Align.RIGHT)
    else:
        canvas.text(BEAT.x, BEAT.y + 12, "click off", SMALL, BEAT.width, Align.MIDDLE)
    widgets.value(canvas, view, "tempo", TEMPO, LARGE, Align.RIGHT, tempo_text(view.tempo))
    sign = TEMPO.right - LARGE.width(tempo_text(view.tempo)) - 15
    if sign >= BEAT.right:
        canvas.text(sign, TOP + 15, "♩=", SMALL, 11)
    draw_bar(canvas, view)
    widgets.line(canvas, view, "beats", row(BOTTOM, right=MIDDLE - 14))
    widgets.line(canvas, view, "pulse_level", row(BOTTOM, MIDDLE))


def draw_bar(canvas: Canvas, view: View) -> None:
    """One cell a beat; the cell of the beat that sounds is filled."""
    beats = max(1, view.beats)
    wide = (RIGHT - LEFT + 2) // beats - 2
    for beat in range(1, beats + 1):
        box = Box(LEFT + (beat - 1) * (wide + 2), BOTTOM - 7, wide, 3)
        if view.pulse_on and beat == view.beat:
            canvas.fill(box)
        else:
            canvas.across(box.x, box.right - 1, box.bottom - 1)


PAGE: Final = Page("pulse", "Pulse", draw)
