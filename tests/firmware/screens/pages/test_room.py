"""The room page: every pitch standard and tuning in every combination."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from firmware.music.tunings import TUNINGS
from firmware.screens.pages.room import PAGE
from firmware.screens.view import View


def test_all_tunings_fit_wherever_the_cursor_is(view: View, cuts: Callable[[View], list[str]]) -> None:
    for cursor in ("tonic", "a4", "tuning", "compare_with", "drone_level"):
        for tuning in TUNINGS:
            values = {**view.values, "tuning": tuning.name, "compare_with": tuning.name, "a4": 442.5}
            assert cuts(replace(view, page="room", cursor=cursor, values=values)) == []
    assert PAGE.name == "room"
