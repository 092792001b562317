"""The huge font: note names and figures 32 pixels high."""

from __future__ import annotations

from firmware.screens.letterforms import font_of
from firmware.screens.strokes import Pen

FONT = font_of("huge", Pen(height=32, stem=4), gap=3)
