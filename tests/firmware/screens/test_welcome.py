"""The first picture says something, whole, and is mostly dark, like the last one."""

from __future__ import annotations

from firmware.screens.fonts import MIDDLE
from firmware.screens.welcome import NAME, paint_welcome, welcome


def test_its_words_fit_and_every_letter_is_drawn() -> None:
    assert paint_welcome().cuts == []
    assert all(letter in MIDDLE.glyphs for letter in NAME)
    lit = sum(byte.bit_count() for byte in welcome().bits)
    assert 0.005 < lit / (128 * 64) < 0.15
