"""The chord page: the notes that sound, and the field under the cursor."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import product

from firmware.screens.fonts import SMALL
from firmware.screens.pages.chord import PAGE, notes
from firmware.screens.view import View


def test_as_many_notes_are_named_as_there_is_room_for(view: View) -> None:
    assert notes(replace(view, chord=("B♭2", "F3")), 124) == "B♭2  F3"
    assert notes(view, 124) == "no notes"
    long = notes(replace(view, chord=("A♭2", "C♭3", "E♭♭3", "G♭3") * 3), 124)
    assert long.endswith("…")
    assert SMALL.width(long) <= 124


def test_every_spelling_of_notes_fits(view: View, cuts: Callable[[View], list[str]]) -> None:
    names = [letter + sign for letter, sign in product("ABCDEFG", ("", "♭", "♯", "♭♭", "♯♯"))]
    for count in (1, 4, 6, 9, 16):
        for name in names:
            assert (
                cuts(replace(view, page="chord", chord=tuple(f"{name}{octave % 9}" for octave in range(count)))) == []
            )
    assert PAGE.name == "chord"
