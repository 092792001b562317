"""The takes page: length of the take, large; the take that Replay plays; pre-roll, gain and level of the microphone."""

from __future__ import annotations

from typing import Final

from firmware.screens import widgets
from firmware.screens.fields import time_text
from firmware.screens.fonts import LARGE, SMALL
from firmware.screens.page import LEFT, RIGHT, TOP, Page
from firmware.screens.raster import Align, Box, Canvas
from firmware.screens.view import View

COLUMN: Final = 80
ROOM: Final = RIGHT - COLUMN
LINES: Final = (TOP + 25, TOP + 35)
LEVEL: Final = Box(LEFT, 59, RIGHT - LEFT - 22, 5)


def draw(canvas: Canvas, view: View) -> None:
    """Draw the body."""
    seconds, doing, detail = activity(view)
    canvas.text(LEFT, TOP, time_text(seconds), LARGE, COLUMN - LEFT - 4)
    canvas.text(COLUMN, TOP + 1, doing, SMALL, ROOM, Align.RIGHT)
    canvas.text(COLUMN, TOP + 12, detail, SMALL, ROOM, Align.RIGHT)
    widgets.line(canvas, view, "chosen_take", Box(LEFT, LINES[0], RIGHT - LEFT, SMALL.height))
    widgets.line(canvas, view, "preroll", Box(LEFT, LINES[1], 58, SMALL.height))
    widgets.line(canvas, view, "mic_gain", Box(68, LINES[1], RIGHT - 68, SMALL.height))
    widgets.level_bar(canvas, LEVEL, view.mic_peak_db, view.mic_rms_db)
    canvas.text(LEVEL.right + 4, 57, "clip" if view.clipped else "mic", SMALL, 18, Align.RIGHT)


def activity(view: View) -> tuple[float, str, str]:
    """Seconds to show large, what is going on, and a detail."""
    if view.taking:
        return view.take_seconds, f"take {view.take_number}", marks(view.markers)
    if view.replaying:
        return view.replay_seconds, "replay", f"take {view.replaying}"
    room = f"{view.free_minutes} min left" if view.stick else "no stick"
    return 0.0, "ready" if view.stick else "", room


def marks(count: int) -> str:
    """Number of markers in words."""
    return f"{count} mark{'s' if count != 1 else ''}"


PAGE: Final = Page("takes", "Takes", draw)
