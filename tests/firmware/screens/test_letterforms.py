"""The large glyphs: they fill their height, and accidentals have the parts that musicians know them by."""

from __future__ import annotations

import pytest

from firmware.screens.font import Font
from firmware.screens.fonts import HUGE, LARGE, MIDDLE
from firmware.screens.letterforms import LETTERFORMS, font_of
from firmware.screens.strokes import Pen

SIZES = pytest.mark.parametrize("font", [MIDDLE, LARGE, HUGE], ids=lambda font: font.name)


def runs(row: str) -> int:
    """How many separate lit stretches a row has."""
    return len([part for part in row.split(".") if part])


@SIZES
def test_letters_and_figures_use_the_whole_height(font: Font) -> None:
    for character in "ABCDEFG0123456789":
        rows = font.glyphs[character].rows
        assert "#" in rows[0], character
        assert "#" in rows[-1], character


@SIZES
def test_a_flat_is_a_stem_with_a_bowl_low_down(font: Font) -> None:
    rows = font.glyphs["♭"].rows
    third = font.rise // 3
    assert all(runs(row) == 1 and row[0] == "#" for row in rows[:third])
    assert max(len(row.rstrip(".")) for row in rows[third:]) > 2 * max(len(row.rstrip(".")) for row in rows[:third])


@SIZES
def test_a_sharp_has_two_stems_and_two_bars_that_rise(font: Font) -> None:
    rows = font.glyphs["♯"].rows
    assert runs(rows[font.rise // 2]) == 2
    left = [number for number, row in enumerate(rows) if row[0] == "#"]
    right = [number for number, row in enumerate(rows) if row[-1] == "#"]
    assert min(right) < min(left)
    assert max(right) < max(left)


@SIZES
def test_a_natural_has_an_open_end_at_each_corner(font: Font) -> None:
    rows = font.glyphs["♮"].rows
    assert rows[0][-1] == "."
    assert rows[-1][0] == "."


def test_a_font_of_any_size_can_be_made() -> None:
    font = font_of("mighty", Pen(height=48, stem=6), gap=4)
    assert font.rise == font.height == 48
    assert set(font.glyphs) == {character for character, _, _ in LETTERFORMS}
