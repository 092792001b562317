"""The last picture says something, whole, and is mostly dark: it may stay for long."""

from __future__ import annotations

from firmware.screens.farewell import farewell, paint_farewell
from firmware.screens.frame import Frame


def test_its_words_fit_and_little_of_the_glass_is_lit() -> None:
    assert paint_farewell().cuts == []
    assert farewell() != Frame()
    lit = sum(byte.bit_count() for byte in farewell().bits)
    assert 0.005 < lit / (128 * 64) < 0.15
