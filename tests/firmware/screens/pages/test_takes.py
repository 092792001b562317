"""The takes page: what goes on, and that long rehearsals fit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from firmware.screens.pages.takes import PAGE, activity
from firmware.screens.view import View

Cuts = Callable[[View], list[str]]


def test_the_large_time_is_that_of_the_take_or_of_the_replay(view: View) -> None:
    taking = replace(view, taking=True, take_number=4, take_seconds=72.0, markers=1)
    assert activity(taking) == (72.0, "take 4", "1 mark")
    assert activity(replace(view, replaying=3, replay_seconds=12.0)) == (12.0, "replay", "take 3")
    assert activity(view) == (0.0, "room for", "412 min")
    assert activity(replace(view, stick=False)) == (0.0, "no stick", "")


@pytest.mark.parametrize("seconds", [0.0, 59.0, 600.0, 5 * 3600.0])
def test_times_and_counts_fit(seconds: float, view: View, cuts: Cuts) -> None:
    takes = replace(view, page="takes")
    assert cuts(replace(takes, taking=True, take_number=999, take_seconds=seconds, markers=99, clipped=True)) == []
    assert cuts(replace(takes, replaying=999, replay_seconds=seconds)) == []


@pytest.mark.parametrize("minutes", [0, 9, 999, 1000, 10**7])
def test_any_room_on_the_stick_fits(minutes: int, view: View, cuts: Cuts) -> None:
    assert cuts(replace(view, page="takes", free_minutes=minutes)) == []
    assert PAGE.name == "takes"
