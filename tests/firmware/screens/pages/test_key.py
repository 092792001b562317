"""The key page in every key and mode."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from firmware.music.keys import TONICS
from firmware.music.modes import MODES
from firmware.screens.pages.key import FRAME, PAGE
from firmware.screens.render import render
from firmware.screens.view import View


def test_every_key_fits(view: View, cuts: Callable[[View], list[str]]) -> None:
    for tonic in TONICS:
        for mode in MODES:
            shown = replace(view, tonic=tonic.text, mode=mode.title, values={**view.values, "mode": mode.name})
            assert cuts(shown) == [], (tonic.text, mode.title)


def test_the_tonic_is_framed_while_the_cursor_is_on_it(view: View, dots: Callable[..., Any]) -> None:
    for cursor, framed in (("tonic", True), ("mode", False)):
        shown = dots(render(replace(view, cursor=cursor)))
        assert shown[FRAME.y, FRAME.x + 1 : FRAME.right - 1].all() == framed


def test_the_page_says_whether_the_drone_sounds(view: View) -> None:
    assert render(view) != render(replace(view, drone_on=True))
    assert PAGE.name == "key"
