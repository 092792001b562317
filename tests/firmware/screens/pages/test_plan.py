"""The plan page: any title, any notes, any number of minutes fits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from firmware.screens.fields import minutes_text
from firmware.screens.fonts import SMALL
from firmware.screens.pages.plan import PAGE, ROOM, wrapped
from firmware.screens.render import render
from firmware.screens.view import View

LONG = "Sections alone from the second ending, then all together " * 4


@pytest.mark.parametrize("left", [None, 0, 7, -12, 599, -600])
@pytest.mark.parametrize("cursor", ["tonic", "plan_step"])
def test_everything_fits(view: View, cuts: Callable[[View], list[str]], left: int | None, cursor: str) -> None:
    shown = replace(view, page=PAGE.name, cursor=cursor, plan_step=1000, plan_steps=1000, plan_left=left)
    for rest in (None, 600):
        assert cuts(replace(shown, plan_title=LONG, plan_notes=LONG, plan_next=LONG, plan_rest=rest)) == []
    assert cuts(replace(shown, plan_step=0, plan_name=LONG)) == []


def test_what_the_plan_says_is_shown(view: View) -> None:
    plain = replace(view, page=PAGE.name, plan_step=1, plan_steps=3, plan_title="Chorale", plan_rest=20)
    told = [
        plain,
        replace(plain, plan_steps=0),
        replace(plain, plan_step=2),
        replace(plain, plan_title="Tutti"),
        replace(plain, plan_notes="Horns low."),
        replace(plain, plan_left=3),
        replace(plain, plan_next="Tutti"),
        replace(plain, cursor="plan_step"),
    ]
    assert len({render(one) for one in told}) == len(told)


def test_minutes_are_counted_on_when_they_are_over() -> None:
    assert [minutes_text(minutes) for minutes in (7, 0, -2)] == ["7 min", "0 min", "+2 min"]


def test_notes_are_wrapped_at_words_and_only_the_last_line_is_cut() -> None:
    assert wrapped("", ROOM, 2) == ()
    assert wrapped("Horns low.", ROOM, 2) == ("Horns low.",)
    first, second = wrapped(LONG, ROOM, 2)
    assert LONG.startswith(f"{first} {second[:8]}")
    assert second.endswith("…")
    assert max(SMALL.width(first), SMALL.width(second)) <= ROOM
    assert wrapped("Donaudampfschifffahrtsgesellschaftskapelle", ROOM, 1)[0].endswith("…")
