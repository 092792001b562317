"""The pulse page: every tempo, bar and beat fits, and the cell of the beat is the thick one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from firmware.screens.page import BOTTOM
from firmware.screens.pages.pulse import PAGE
from firmware.screens.render import render
from firmware.screens.view import View

Cuts = Callable[[View], list[str]]


def test_every_beat_of_every_meter_fits(view: View, cuts: Cuts) -> None:
    for beats in range(1, 13):
        for beat in range(1, beats + 1):
            shown = replace(view, page="pulse", pulse_on=True, beats=beats, beat=beat, bar=8888)
            assert cuts(shown) == [], (beat, beats)


def test_every_tempo_fits(view: View, cuts: Cuts) -> None:
    for tenth in range(200, 3001, 7):
        assert cuts(replace(view, page="pulse", cursor="tempo", tempo=tenth / 10)) == [], tenth


def test_the_cell_of_the_beat_is_thick(view: View, dots: Callable[..., Any]) -> None:
    lefts = []
    for beat in range(1, 5):
        shown = dots(render(replace(view, page="pulse", pulse_on=True, beats=4, beat=beat)))
        lefts.append(shown[BOTTOM - 7].nonzero()[0].min())
    assert lefts == sorted(set(lefts))
    off = dots(render(replace(view, page="pulse", pulse_on=False, beats=4, beat=1)))
    assert not off[BOTTOM - 7].any()
    assert PAGE.name == "pulse"
