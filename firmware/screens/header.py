"""The strip at the top of every page: tonic and mode, what goes on, whose written pitch is shown, which page it is."""

from __future__ import annotations

from typing import Final

from firmware.screens.fields import TONIC, minutes_text, written
from firmware.screens.font import Glyph, glyphs_of
from firmware.screens.fonts import SMALL
from firmware.screens.frame import WIDTH
from firmware.screens.page import LEFT, RIGHT
from firmware.screens.raster import DARK, LIT, Box, Canvas
from firmware.screens.view import View

RULE: Final = 10
"""Row of the line under the header."""

GAP: Final = 4
"""Columns between two marks."""

MARKS: Final[dict[str, Glyph]] = glyphs_of("""
drone   take    replay
####### .#####. #....
....... ####### ###..
####### ####### #####
....... ####### #####
####### ####### ###..
....... .#####. #....
....... ....... .....
""")
"""Marks of what is going on. The disc and the triangle are the signs for record and play of IEC 60417 (5547 and 5107B,
numbers from memory); the drone is three rungs of the ladder."""


def draw_header(canvas: Canvas, view: View, place: int, places: int) -> None:
    """Draw the header; `place` is the page's number among `places`."""
    right = draw_badge(canvas, view)
    if view.comparing:
        # The drone's mark may go: what is compared can be heard.
        draw_comparing(canvas, view, right)
    else:
        room = draw_marks(canvas, view, right) - LEFT
        if view.page == "key":
            canvas.text(LEFT, 1, plan_text(view, room) if view.plan_title else standard_text(view, room), SMALL, room)
        else:
            draw_key(canvas, view, room)
    draw_rule(canvas, place, places)


def draw_badge(canvas: Canvas, view: View) -> int:
    """Whose written pitch is shown, inverted at the right edge; answers the column that the next mark ends at."""
    if not view.badge:
        return RIGHT
    wide = SMALL.width(view.badge)
    x = RIGHT - wide - 4
    canvas.fill(Box(x, 0, wide + 4, 9))
    canvas.text(x + 2, 1, view.badge, SMALL, wide, ink=DARK)
    return x - GAP


def draw_marks(canvas: Canvas, view: View, right: int) -> int:
    """Marks of what goes on, from the right leftwards; a take and a replay never run together."""
    running = "take" if view.taking else "replay" if view.replaying else ""
    for mark in (running, "drone" if view.drone_on else ""):
        if mark:
            right -= MARKS[mark].width
            canvas.glyph(right, 2, MARKS[mark])
            right -= GAP
    return right


def draw_comparing(canvas: Canvas, view: View, right: int) -> None:
    """While Compare is down: what sounds instead, inverted."""
    text = f"⇄ {view.comparing}"
    room = right - LEFT - 4
    canvas.fill(Box(LEFT, 0, min(room, SMALL.width(text)) + 4, 9))
    canvas.text(LEFT + 2, 1, text, SMALL, room, ink=DARK)


def draw_key(canvas: Canvas, view: View, room: int) -> None:
    """Tonic and mode; the tonic is inverted when the knob would turn it."""
    chosen = view.cursor == TONIC
    wide = SMALL.width(view.tonic)
    if chosen:
        canvas.fill(Box(LEFT, 0, wide + 4, 9))
    canvas.text(LEFT + 2, 1, view.tonic, SMALL, wide, ink=DARK if chosen else LIT)
    start = wide + 7
    modes = (view.mode, abbreviated(view.mode))
    canvas.text(LEFT + start, 1, SMALL.first_that_fits(modes, room - start), SMALL, room - start)


def abbreviated(title: str) -> str:
    """A title of two words with its first one shortened: harm. minor."""
    first, space, rest = title.partition(" ")
    return f"{first[:4]}. {rest}" if space else title


def plan_text(view: View, room: int) -> str:
    """Step of the plan, its title and its minutes left; a title is as long as its author likes, so it is cut here."""
    left = "" if view.plan_left is None else f" {minutes_text(view.plan_left)}"
    return SMALL.cut(f"{view.plan_step}/{view.plan_steps} {view.plan_title}", room - SMALL.width(left)) + left


def standard_text(view: View, room: int) -> str:
    """Pitch standard and tuning, as fully as there is room for."""
    a4, tuning = written(view, "a4"), written(view, "tuning")
    return SMALL.first_that_fits((f"A4 {a4} Hz, {tuning}", f"{a4}, {tuning}", f"A4 {a4} Hz", a4), room)


def draw_rule(canvas: Canvas, place: int, places: int) -> None:
    """The line under the header, a dash for each page; the dash of this page is thick."""
    step = WIDTH / places
    for page in range(places):
        start, end = round(page * step) + 1, round((page + 1) * step) - 3
        canvas.across(start, end, RULE)
        if page == place:
            canvas.across(start, end, RULE + 1)
