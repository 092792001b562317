"""The pulse page: beat and bar, large; tempo and meter; the bar as a row of marks whose beat burns down; what comes."""

from __future__ import annotations

from itertools import accumulate
from typing import Final

from firmware.music.lateness import placed
from firmware.screens import widgets
from firmware.screens.fields import BY_NAME, tempo_text, written
from firmware.screens.font import Font, Glyph, glyphs_of
from firmware.screens.fonts import HUGE, LARGE, MIDDLE, SMALL
from firmware.screens.page import BOTTOM, LEFT, PITCH, RIGHT, TOP, Page, row
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

BEAT: Final = Box(LEFT, TOP, 40, HUGE.rise)
BAR: Final = Box(BEAT.right + 3, TOP, 32, LARGE.rise)
TEMPO: Final = Box(RIGHT - 50, TOP, 48, MIDDLE.rise)
SIGN: Final = TOP + 17
"""Row of the tempo's note value and the meter."""
STATE: Final = TOP + 25
"""Row of what goes on."""
MARKS: Final = Box(LEFT, BOTTOM - 8, RIGHT - LEFT, 7)
GROUP_GAP: Final = 3
"""Columns between two groups of the bar."""
HEIGHTS: Final = (7, 5, 3)
"""Rows of the mark of a bar's first beat, of another group's, of any other."""
MIDDLE_COLUMN: Final = 70

NOTES: Final[dict[str, Glyph]] = glyphs_of("""
1     2    4    8      16     32     dot
..... ...# ...# ...#.. ...### ...### ..
..... ...# ...# ...##. ...#.. ...### ..
..... ...# ...# ...#.# ...### ...#.. ..
..... ...# ...# ...#.. ...#.. ...### ..
.###. .### .### .###.. .###.. .###.. ..
#...# #..# #### ####.. ####.. ####.. .#
.###. .##. .##. .##... .##... .##... .#
""")
"""Note values by the number under the line, and the dot that makes one half as long again."""


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    if view.pulse_on and view.beat:
        canvas.text(BEAT.x, BEAT.y, str(view.beat), first_font(str(view.beat), BEAT.width, HUGE), BEAT.width)
        bar = str(view.bar)
        canvas.text(BAR.x, BAR.y, bar, first_font(bar, BAR.width, LARGE), BAR.width)
        canvas.text(BAR.x, STATE, "bar", SMALL, BAR.width)
    elif view.cursor != "tempo_tenths":
        canvas.text(BEAT.x, BEAT.y + 12, "waits" if view.waiting else "click off", SMALL, BEAT.width + 4)
    tempo = tempo_text(view.tempo)
    widgets.value(canvas, view, "tempo", TEMPO, MIDDLE, Align.RIGHT, tempo)
    draw_meter(canvas, view)
    canvas.text(TEMPO.x - 4, STATE, state_of(view), SMALL, TEMPO.width + 6, Align.RIGHT)
    draw_marks(canvas, view)
    draw_line(canvas, view)


def first_font(text: str, room: int, largest: Font) -> Font:
    """The largest font in which a number fits."""
    fonts = [font for font in (HUGE, LARGE, MIDDLE, SMALL) if font.rise <= largest.rise]
    return next((font for font in fonts if font.width(text) <= room), SMALL)


def draw_meter(canvas: Canvas, view: View) -> None:
    """Note value of the tempo and the meter, right under the tempo."""
    times, unit = view.beat_value
    room = RIGHT - BAR.right - 9
    meter = SMALL.cut(view.meter, room)
    x = RIGHT - SMALL.width(meter)
    canvas.text(x, SIGN, meter, SMALL, RIGHT - x)
    if times == 3:
        x -= NOTES["dot"].width + 3
        canvas.glyph(x, SIGN, NOTES["dot"])
        x += 2
        unit //= 2
    sign = NOTES.get(str(unit), NOTES["4"])
    canvas.glyph(x - sign.width - 3, SIGN, sign)


def state_of(view: View) -> str:
    """What is special about this bar, else how early or late the players were in the last."""
    if not view.pulse_on:
        return ""
    if view.counting:
        return "count-in"
    if view.silent_bar:
        return "silent"
    return "" if view.lateness_ms is None else placed(view.lateness_ms)


def draw_marks(canvas: Canvas, view: View) -> None:
    """A mark for each beat, groups apart; the beat that sounds is full at its stroke and burns down to the next."""
    groups = tuple(max(1, size) for size in view.meter_groups[:32]) or (1,)
    beats = sum(groups)
    firsts = {0, *accumulate(groups[:-1])}
    gap = GROUP_GAP if MARKS.width >= 2 * beats + GROUP_GAP * len(groups) else 0
    step = (MARKS.width - gap * (len(groups) - 1)) / beats
    group = -1
    for beat in range(beats):
        group += beat in firsts
        left = round(MARKS.x + beat * step + group * gap)
        right = max(left + 1, round(MARKS.x + (beat + 1) * step + group * gap) - (1 if step >= 3 else 0))
        height = HEIGHTS[0] if beat == 0 else HEIGHTS[1] if beat in firsts else HEIGHTS[2]
        sounding = view.pulse_on and beat + 1 == view.beat
        draw_mark(canvas, Box(left, MARKS.y, right - left, MARKS.height), height, view, sounding=sounding)


def draw_mark(canvas: Canvas, box: Box, height: int, view: View, *, sounding: bool) -> None:
    """One beat's mark."""
    bottom = box.bottom - 1
    if sounding:
        left = round(box.width * (1.0 - min(max(view.phase, 0.0), 1.0)))
        body = Box(box.x, box.y, max(1, left), box.height)
        canvas.frame(body) if view.silent_bar else canvas.fill(body)
    canvas.across(box.x, box.right - 1, bottom, step=2 if view.silent_bar else 1)
    canvas.down(box.x, box.bottom - height, bottom)


def draw_line(canvas: Canvas, view: View) -> None:
    """The lowest line: the field under the cursor, else what the next bar brings, else the ramp, else the groove."""
    field = BY_NAME.get(view.cursor)
    if field is not None and field.page == "pulse" and field.name != "tempo":
        widgets.line(canvas, view, field.name, row(BOTTOM))
    elif view.pulse_on and view.next_bar:
        text = SMALL.cut(f"next bar: {view.next_bar}", RIGHT - LEFT)
        canvas.text(LEFT, BOTTOM, text, SMALL, RIGHT - LEFT)
    elif view.pulse_on and view.ramp is not None:
        draw_ramp(canvas, view, view.ramp)
    else:
        room = MIDDLE_COLUMN - LEFT + 10
        canvas.text(LEFT, BOTTOM, SMALL.cut(written(view, "groove"), room), SMALL, room)
        widgets.value(canvas, view, "pulse_level", row(BOTTOM, MIDDLE_COLUMN + 12), align=Align.RIGHT)


def draw_ramp(canvas: Canvas, view: View, done: float) -> None:
    """How far a ramp has come, and the tempo it goes to."""
    goal = f"to {tempo_text(view.ramp_to)}"
    x = RIGHT - SMALL.width(goal)
    canvas.text(x, BOTTOM, goal, SMALL, RIGHT - x)
    box = Box(LEFT, BOTTOM + 1, max(4, x - LEFT - 4), PITCH - 4)
    canvas.frame(box)
    canvas.fill(Box(box.x, box.y, round(box.width * min(max(done, 0.0), 1.0)), box.height))


PAGE: Final = Page("pulse", "Pulse", draw)
