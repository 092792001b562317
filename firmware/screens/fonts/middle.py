"""The middle font: note names and figures 14 pixels high."""

from __future__ import annotations

from firmware.screens.letterforms import font_of
from firmware.screens.strokes import Pen

FONT = font_of("middle", Pen(height=14, stem=2), gap=2)
