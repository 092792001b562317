"""Figures of an alignment in words."""

from __future__ import annotations

from fractions import Fraction

import pytest

from firmware.music.lateness import beat_text, paced, placed


def test_places_of_the_bar():
    assert [beat_text(beat) for beat in (Fraction(1), Fraction(5, 2), Fraction(13, 3))] == ["1", "2 1/2", "4 1/3"]


@pytest.mark.parametrize(("percent", "words"), [(1.84, "rushing 1.8 %"), (-0.5, "dragging 0.5 %"), (0.04, "steady")])
def test_pace(percent: float, words: str):
    assert paced(percent) == words


@pytest.mark.parametrize(("ms", "words"), [(12.4, "12 ms late"), (-3.0, "3 ms early"), (0.2, "on the beat")])
def test_place(ms: float, words: str):
    assert placed(ms) == words
