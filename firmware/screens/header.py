"""The strip at the top of every page: tonic and mode, what goes on, whose written pitch is shown, which page it is."""

from __future__ import annotations

from typing import Final

from firmware.screens.fields import TONIC, written
from firmware.screens.font import Glyph, glyphs_of
from firmware.screens.fonts import SMALL
from firmware.screens.frame import WIDTH
from firmware.screens.page import LEFT, RIGHT
from firmware.screens.raster import DARK, LIT, Box, Canvas
from firmware.screens.view import View

RULE: Final = 10
"""Row of the line under the header."""

SIGNS: Final[dict[str, Glyph]] = glyphs_of("""
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
    left = draw_state(canvas, view)
    if view.comparing:
        draw_comparing(canvas, view, left)
    elif view.page == "key" and view.plan_title:
        canvas.text(LEFT, 1, plan_text(view, left - LEFT), SMALL, left - LEFT)
    elif view.page == "key":
        canvas.text(LEFT, 1, f"A4 {written(view, 'a4')} Hz, {written(view, 'tuning')}", SMALL, left - LEFT)
    else:
        draw_key(canvas, view, left)
    draw_rule(canvas, place, places)


def draw_state(canvas: Canvas, view: View) -> int:
    """Badge and marks from the right edge leftwards; answers the first column that they take."""
    x = RIGHT
    if view.badge:
        wide = SMALL.width(view.badge)
        x -= wide + 4
        canvas.fill(Box(x, 0, wide + 4, 9))
        canvas.text(x + 2, 1, view.badge, SMALL, wide, ink=DARK)
        x -= 4
    for sign, on in (("replay", view.replaying > 0), ("take", view.taking), ("drone", view.drone_on)):
        if on:
            x -= SIGNS[sign].width
            canvas.glyph(x, 2, SIGNS[sign])
            x -= 4
    return x


def draw_comparing(canvas: Canvas, view: View, left: int) -> None:
    """While Compare is down: what sounds instead, inverted."""
    room = left - LEFT - 5
    wide = min(room, SMALL.width(f"⇄ {view.comparing}"))
    canvas.fill(Box(LEFT, 0, wide + 4, 9))
    canvas.text(LEFT + 2, 1, f"⇄ {view.comparing}", SMALL, room, ink=DARK)


def draw_key(canvas: Canvas, view: View, left: int) -> None:
    """Tonic and mode; the tonic is inverted when the cursor is on it and the page does not show it large."""
    chosen = view.cursor == TONIC and view.page != "key"
    wide = SMALL.width(view.tonic)
    if chosen:
        canvas.fill(Box(LEFT, 0, wide + 4, 9))
    canvas.text(LEFT + 2, 1, view.tonic, SMALL, wide, ink=DARK if chosen else LIT)
    start = LEFT + wide + 7
    canvas.text(start, 1, view.mode, SMALL, left - start - 2)


def plan_text(view: View, room: int) -> str:
    """Step of the plan and its title; a title is as long as its author likes, so it is cut here."""
    return SMALL.cut(f"{view.plan_step}/{view.plan_steps} {view.plan_title}", room)


def draw_rule(canvas: Canvas, place: int, places: int) -> None:
    """The line under the header, a dash for each page; the dash of this page is thick."""
    step = WIDTH / places
    for page in range(places):
        start, end = round(page * step), round((page + 1) * step) - 4
        canvas.across(start + 1, end + 1, RULE)
        if page == place:
            canvas.across(start + 1, end + 1, RULE + 1)
