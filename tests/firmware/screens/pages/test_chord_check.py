"""The chord check on the ear page: every chord, error and reason fits, and sharp stands above flat."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from firmware.hearing.chord import ABSENT, DISAGREE, TOGETHER
from firmware.hearing.chord_find import chords_of
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.music.modes import MODES
from firmware.screens.pages._chord_check import CHART, WORDS, names, row_of
from firmware.screens.render import render
from firmware.screens.view import ChordLine, View

Cuts = Callable[[View], list[str]]


def page(view: View, chord: str, *lines: ChordLine) -> View:
    return replace(view, page="ear", ear="chord check", checked=chord, checked_degrees=lines)


@pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.name)
def test_every_chord_of_every_mode_fits(mode: object, view: View, cuts: Cuts) -> None:
    for tonic in ("Ab", "F#"):
        for chord in chords_of(Harmony(key_of(tonic, mode))):
            lines = [ChordLine(target.degree, -26.0, 3) for target in chord.targets]
            assert cuts(page(view, chord.name, *lines)) == [], chord.name


def test_every_error_and_reason_fits(view: View, cuts: Cuts) -> None:
    for cents in (-45.0, -9.6, 0.0, 45.0):
        assert cuts(page(view, "B♭ major", *[ChordLine("♯7", cents, 1)] * 4)) == []
    for why in (ABSENT, DISAGREE, TOGETHER):
        assert why in WORDS
        assert cuts(page(view, "B♭ major", *[ChordLine("♯7", None, 0, why)] * 4)) == []


def test_sharp_is_up_and_loud_is_long(view: View) -> None:
    assert row_of(CHART, 20.0) < row_of(CHART, 0.0) < row_of(CHART, -20.0)
    assert row_of(CHART, 200.0) == row_of(CHART, 30.0) >= CHART.y
    assert row_of(CHART, -200.0) < CHART.bottom
    pictures = {render(page(view, "B♭ major", ChordLine("1", 4.0, level))) for level in (1, 2, 3)}
    assert len(pictures) == 3


def test_long_names_have_short_forms() -> None:
    assert names("A half-diminished seventh")[1] == "A half-dim. seventh"
    assert names("F dominant seventh")[2] == "F dom. seventh"
    assert names("F dominant seventh")[3] == "F"
