"""The takes page: length of the take, large; the take that Replay plays; pre-roll, gain and level of the microphone."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import marks_text, room_text, time_text
from firmware.screens.fonts import LARGE, MIDDLE, SMALL
from firmware.screens.page import BOTTOM, LEFT, RIGHT, TOP, Page, row
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

COLUMN: Final = 80
ROOM: Final = RIGHT - COLUMN
LINES: Final = (
    ("chosen_take", row(TOP + 23)),
    ("preroll", row(TOP + 32, right=58)),
    ("mic_gain", row(TOP + 32, 68)),
)
LEVEL: Final = Box(LEFT, BOTTOM + 2, RIGHT - LEFT - 22, 5)


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    seconds, doing, detail = activity(view)
    time = time_text(seconds)
    room = COLUMN - LEFT - 4
    font = LARGE if LARGE.width(time) <= room else MIDDLE
    canvas.text(LEFT, TOP - 1 + LARGE.rise - font.rise, time, font, room)
    canvas.text(COLUMN, TOP, doing, SMALL, ROOM, Align.RIGHT)
    canvas.text(COLUMN, TOP + 11, detail, SMALL, ROOM, Align.RIGHT)
    widgets.lines(canvas, view, LINES)
    widgets.level_bar(canvas, LEVEL, view.mic_peak_db, view.mic_rms_db)
    canvas.text(LEVEL.right + 4, BOTTOM, "clip" if view.clipped else "mic", SMALL, 18, Align.RIGHT)


def activity(view: View) -> tuple[float, str, str]:
    """Seconds to show large, what is going on, and a detail."""
    if view.taking:
        return view.take_seconds, f"take {view.take_number}", marks_text(view.markers)
    if view.replaying:
        return view.replay_seconds, "replay", f"take {view.replaying}"
    if not view.stick:
        return 0.0, "no stick", ""
    return 0.0, "room for", " ".join(room_text(view.free_minutes))


PAGE: Final = Page("takes", "Takes", draw)
