"""The ear page: whatever is heard fits, and the note is the one that the section reads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import product

import pytest

from firmware.music.modes import MODES
from firmware.screens.pages.ear import PAGE, beats_text
from firmware.screens.render import render
from firmware.screens.view import HeardNote, View

Cuts = Callable[[View], list[str]]
HEARD = HeardNote("D4", "E4", "3", -14.0, 2.0, 372.0)


@pytest.mark.parametrize("ear", ["off", "watch", "answer", "chord check"])
@pytest.mark.parametrize("why", ["", "silence", "noise", "own sound"])
def test_whatever_the_ear_does_fits(ear: str, why: str, view: View, cuts: Cuts) -> None:
    assert cuts(replace(view, page="ear", ear=ear, silence=why)) == []


def test_every_note_error_degree_and_beat_fits(view: View, cuts: Cuts) -> None:
    degrees = sorted({tone.label for mode in MODES for tone in mode.tones})
    ear = replace(view, page="ear", ear="watch")
    for letter, sign, octave in product("ABCDEFG", ("", "♭", "♯", "♭♭", "♯♯"), (0, 8)):
        note = f"{letter}{sign}{octave}"
        assert cuts(replace(ear, heard=replace(HEARD, note=note))) == [], note
    for off in range(-99, 100):
        assert cuts(replace(ear, heard=replace(HEARD, off=float(off)))) == [], off
    for degree in degrees:
        assert cuts(replace(ear, heard=replace(HEARD, degree=degree))) == [], degree
    for beats in (None, 0.0, 9.96, 99.4, 888.8):
        assert cuts(replace(ear, heard=replace(HEARD, beats=beats))) == [], beats


def test_a_section_shows_its_spread(view: View, cuts: Cuts) -> None:
    ear = replace(view, page="ear", ear="watch")
    for spread in (0.0, 4.6, 20.0, 60.0):
        assert cuts(replace(ear, heard=replace(HEARD, beats=None, spread=spread))) == [], spread
    near, far = (render(replace(ear, heard=replace(HEARD, spread=spread))) for spread in (4.0, 12.0))
    assert near != far


def test_with_a_badge_the_written_note_is_shown(view: View) -> None:
    ear = replace(view, page="ear", ear="watch", heard=HEARD, badge="in B♭")
    assert render(ear) == render(replace(ear, heard=replace(HEARD, note="?")))
    assert render(ear) != render(replace(ear, heard=replace(HEARD, written="F4")))


def test_beats_too_fast_to_count_lose_their_tenths() -> None:
    assert beats_text(3.14) == "3.1 beats/s"
    assert beats_text(24.6) == "25 beats/s"
    assert PAGE.name == "ear"
