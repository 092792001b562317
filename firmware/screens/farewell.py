"""The last picture: it stays on the glass after the box has ended, until the power goes."""

from __future__ import annotations

from typing import Final

from firmware.screens.fonts import SMALL
from firmware.screens.frame import Frame
from firmware.screens.page import LEFT, PITCH, RIGHT, TOP
from firmware.screens.raster import Canvas

WORDS: Final = ("The box is off.", "Wait ten seconds,", "then unplug it.")
"""The system ends after the box does, and may still write."""


def paint_farewell() -> Canvas:
    """Paint it; the canvas also knows which texts did not fit."""
    canvas = Canvas()
    room = RIGHT - LEFT
    for line, words in enumerate(WORDS):
        canvas.text(LEFT, TOP + line * PITCH, words, SMALL, room)
    return canvas


def farewell() -> Frame:
    """The picture."""
    return paint_farewell().done()
