"""The plan page: step, its title and minutes left, the director's notes, what comes next."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import fields_of, minutes_text, written
from firmware.screens.fonts import MIDDLE, SMALL
from firmware.screens.page import BOTTOM, LEFT, PITCH, RIGHT, TOP, Page, row
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

STEP: Final = Box(LEFT, TOP - 1, 60, MIDDLE.rise)
UNIT: Final = 20
"""Columns kept for the word after the minutes."""
LEFT_OVER: Final = Box(STEP.right, STEP.y, RIGHT - STEP.right - UNIT, MIDDLE.rise)
TITLE: Final = STEP.bottom + 2
NOTES: Final = TITLE + PITCH
MOST_LINES: Final = 2
ROOM: Final = RIGHT - LEFT


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    if not view.plan_steps:
        canvas.text(LEFT, TOP, "no plan on the stick", SMALL, ROOM)
    else:
        step = written(view, "plan_step")
        widgets.value(canvas, view, "plan_step", STEP, MIDDLE if MIDDLE.width(step) <= STEP.width else SMALL)
        draw_minutes(canvas, view)
        draw_words(canvas, view)
    if view.cursor in fields_of("plan") and view.cursor != "plan_step":
        widgets.line(canvas, view, view.cursor, row(BOTTOM))


def draw_minutes(canvas: Canvas, view: View) -> None:
    """Minutes left of the step, large; without any, those of the rest."""
    left = view.plan_rest if view.plan_left is None else view.plan_left
    if left is None:
        return
    number, unit = minutes_text(left).split()
    canvas.text(LEFT_OVER.x, LEFT_OVER.y, number, MIDDLE, LEFT_OVER.width, Align.RIGHT)
    canvas.text(LEFT_OVER.right, LEFT_OVER.bottom - SMALL.rise, unit, SMALL, UNIT, Align.RIGHT)


def draw_words(canvas: Canvas, view: View) -> None:
    """Title and notes of the step; what comes next, or how long all of it still takes, in the lowest line."""
    title = view.plan_title or view.plan_name or "ready"
    canvas.text(LEFT, TITLE, SMALL.cut(title, ROOM), SMALL, ROOM)
    for number, text in enumerate(wrapped(view.plan_notes, ROOM, MOST_LINES)):
        canvas.text(LEFT, NOTES + number * PITCH, text, SMALL, ROOM)
    if view.cursor in fields_of("plan") and view.cursor != "plan_step":
        return
    rest = f"{minutes_text(view.plan_rest)} in all" if view.plan_rest is not None and view.plan_left is not None else ""
    wide = SMALL.width(rest)
    canvas.text(RIGHT - wide, BOTTOM, rest, SMALL, wide)
    following = f"then {view.plan_next}" if view.plan_next else "the last step"
    room = ROOM - wide - (4 if rest else 0)
    canvas.text(LEFT, BOTTOM, SMALL.cut(following, room), SMALL, room)


def wrapped(text: str, room: int, most: int) -> tuple[str, ...]:
    """A text in lines of whole words; what does not fit into so many lines is cut."""
    lines: list[str] = []
    words = text.split()
    while words and len(lines) < most:
        count = 1
        while count < len(words) and SMALL.width(" ".join(words[: count + 1])) <= room:
            count += 1
        if len(lines) == most - 1:
            count = len(words)
        lines.append(SMALL.cut(" ".join(words[:count]), room))
        words = words[count:]
    return tuple(lines)


PAGE: Final = Page("plan", "Plan", draw)
