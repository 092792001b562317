"""The large font: note names and figures 22 pixels high."""

from __future__ import annotations

from firmware.screens.letterforms import font_of
from firmware.screens.strokes import Pen

FONT = font_of("large", Pen(height=22, stem=3), gap=3)
