"""Size of the figures against the ergonomics of displays.

Source: ISO 9241-303, character height at least 16 minutes of arc, 20 to 22 preferred; stroke 8 to 20 percent of the
height. Both figures are from memory. The panel is a 2.42-inch one of 128 x 64 dots, 55 mm wide (from memory too);
a smaller panel is read from nearer by the same factor.
"""

from __future__ import annotations

import math

import pytest

from firmware.screens.font import Font
from firmware.screens.fonts import HUGE, LARGE, SMALL
from firmware.screens.frame import WIDTH

PANEL_MM = 55.0
LEAST, PREFERRED = 16.0, 20.0


def arc_minutes(pixels: int, metres: float) -> float:
    """Angle under which some rows of the panel are seen."""
    height = pixels * PANEL_MM / WIDTH / 1000
    return 60 * math.degrees(2 * math.atan(height / 2 / metres))


@pytest.mark.parametrize("font", [HUGE, LARGE], ids=lambda font: font.name)
def test_tonic_beat_and_cents_are_of_the_preferred_size_at_one_and_a_half_metres(font: Font) -> None:
    assert arc_minutes(font.rise, 1.5) >= PREFERRED


def test_small_text_can_be_read_at_the_desk() -> None:
    assert arc_minutes(SMALL.rise, 0.6) >= LEAST


@pytest.mark.parametrize("font", [HUGE, LARGE], ids=lambda font: font.name)
def test_strokes_are_neither_thin_nor_clogged(font: Font) -> None:
    stem = font.glyphs["E"].rows[font.rise // 4].count("#")
    assert 0.08 <= stem / font.rise <= 0.20
