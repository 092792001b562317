"""The drill page: every drill and group fits, and while one is under way nothing that is heard shows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from firmware.drills import DRILLS
from firmware.drills.course import answered, begun
from firmware.drills.drill import Answer, Phase, Task
from firmware.music.ensemble import GROUPS
from firmware.music.harmony import Harmony
from firmware.music.keys import key_of
from firmware.screens.fields import fields_of
from firmware.screens.pages.drill import PAGE
from firmware.screens.render import render
from firmware.screens.view import DrillView, HeardNote, Rung, TrailPoint, View

Cuts = Callable[[View], list[str]]


@pytest.mark.parametrize("cursor", ["tonic", *fields_of("drill")])
def test_every_field_can_be_reached_and_seen(view: View, cuts: Cuts, cursor: str) -> None:
    shown = replace(view, page=PAGE.name, cursor=cursor)
    assert cuts(shown) == []
    assert render(shown) != render(replace(shown, cursor="mode")) or cursor == "tonic"


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)
def test_what_a_drill_says_fits(view: View, cuts: Cuts, drill) -> None:
    task = Task(Harmony(key_of("Gb")), 3, by="player", within=30.0, seconds=10.0)
    run = begun(drill, task, 0)
    told = answered(
        replace(begun(drill, replace(task, by="knob"), 0), phase=Phase.OPEN, value=-60.0), Answer.EQUAL, 48_000
    )
    words = [drill.asks(run), drill.asks(replace(run, phase=Phase.OPEN)), drill.tells(told)]
    for big, small in words:
        for group in ("", max(GROUPS, key=len) + " 9"):
            quiet = DrillView(running=True, group=group, place=24, rounds=24, big=big, small=small)
            assert cuts(replace(view, page=PAGE.name, cursor="drill_run", drill=quiet)) == []
    big, small = drill.sums(told)
    assert cuts(replace(view, page=PAGE.name, drill=DrillView(big=big, small=small))) == []


def test_nothing_that_is_heard_shows_during_a_drill(busy: View) -> None:
    quiet = replace(busy, page=PAGE.name, cursor="drill_run", drill=DrillView(running=True, big="Listen"))
    heard = replace(
        quiet,
        ear="watch",
        heard=HeardNote("D4", "E4", "3", 12.0, 4.0, 398.0),
        rungs=(Rung("3", "D3", 386.31, 400.0, 1.0),),
        trail=(TrailPoint(0.5, 398.0),),
        chord=("B♭2", "D3", "F3"),
        drift=11.0,
        answering="D4",
        checked="B♭ major",
        drone_on=quiet.drone_on,
    )
    assert render(heard) == render(quiet)


def test_what_came_of_the_last_one_shows(view: View) -> None:
    shown = replace(view, page=PAGE.name)
    assert render(replace(shown, drill=DrillView(big="8 of 12", small="right"))) != render(shown)
