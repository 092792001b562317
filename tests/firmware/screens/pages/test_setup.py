"""The setup page: with a stick of any size, and without."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from firmware.screens.pages.setup import PAGE
from firmware.screens.render import render
from firmware.screens.view import View


@pytest.mark.parametrize("minutes", [0, 888, 999, 1000, 88888, 10**9])
def test_any_room_on_the_stick_fits(minutes: int, view: View, cuts: Callable[[View], list[str]]) -> None:
    assert cuts(replace(view, page="setup", free_minutes=minutes)) == []


def test_a_missing_stick_is_said(view: View) -> None:
    assert render(replace(view, page="setup")) != render(replace(view, page="setup", stick=False))
    assert PAGE.name == "setup"
