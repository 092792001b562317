"""The takes page: length of the take, large; the take that Replay plays and how; pre-roll, gain, microphone level."""

from __future__ import annotations

from typing import Final

from firmware.music.lateness import placed
from firmware.screens import widgets
from firmware.screens.fields import BY_NAME, marks_text, room_text, time_text
from firmware.screens.fonts import LARGE, MIDDLE, SMALL
from firmware.screens.page import BOTTOM, LEFT, RIGHT, TOP, Page, row
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

COLUMN: Final = 80
ROOM: Final = RIGHT - COLUMN
TAKE: Final = ("chosen_take", row(TOP + 23))
SECOND: Final = row(TOP + 32)
RECORDING: Final = (
    ("preroll", row(TOP + 32, right=58)),
    ("mic_gain", row(TOP + 32, 68)),
)
SHARED: Final = frozenset(name for name, _ in (TAKE, *RECORDING))
"""Fields that are always in their place; any other takes the second line while the cursor is on it."""
FULL: Final = 100
"""Per cent of the speed of the recording."""
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
    widgets.line(canvas, view, *TAKE)
    draw_second(canvas, view)
    widgets.level_bar(canvas, LEVEL, view.mic_peak_db, view.mic_rms_db)
    canvas.text(LEVEL.right + 4, BOTTOM, "clip" if view.clipped else "mic", SMALL, 18, Align.RIGHT)


def draw_second(canvas: Canvas, view: View) -> None:
    """The second line: the field under the cursor, else what is special about a replay, else what is recorded with."""
    field = BY_NAME.get(view.cursor)
    if field is not None and field.page == "takes" and field.name not in SHARED:
        widgets.line(canvas, view, field.name, SECOND)
        return
    late, how = replayed(view)
    if not (late or how):
        widgets.lines(canvas, view, RECORDING)
        return
    end = canvas.text(SECOND.x, SECOND.y, late, SMALL, SECOND.width)
    canvas.text(end + 4, SECOND.y, how, SMALL, SECOND.right - end - 4, Align.RIGHT)


def replayed(view: View) -> tuple[str, str]:
    """How late the players were in the bar that is replayed, and how it is replayed: slower, round and round."""
    if not view.replaying:
        return "", ""
    late = "" if view.replay_late_ms is None else placed(view.replay_late_ms)
    slower = f"{view.replay_speed} %" if view.replay_speed != FULL else ""
    loop = f"{view.loop[0]} to {view.loop[1]}" if view.loop[0] else ""
    return late, " · ".join(text for text in (slower, loop) if text)


def activity(view: View) -> tuple[float, str, str]:
    """Seconds to show large, what is going on, and a detail."""
    if view.taking:
        return view.take_seconds, f"take {view.take_number}", marks_text(view.markers)
    if view.replaying and view.replay_bar is not None:
        return view.replay_seconds, f"take {view.replaying}", f"bar {view.replay_bar}"
    if view.replaying:
        return view.replay_seconds, "replay", f"take {view.replaying}"
    if not view.stick:
        return 0.0, "no stick", ""
    return 0.0, "room for", " ".join(room_text(view.free_minutes))


PAGE: Final = Page("takes", "Takes", draw)
