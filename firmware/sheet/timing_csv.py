"""timing.csv: every note that was heard to the pulse, one a line, for a spreadsheet."""

from __future__ import annotations

from typing import Final

from firmware.heard_events import BarTimed

COLUMNS: Final[tuple[tuple[str, str], ...]] = (
    ("bar", "bar of the pulse"),
    ("beat", "beat in the bar; 2 1/2 is the middle of the second"),
    ("late_ms", "milliseconds after its place in the pulse; early is negative"),
)
"""Name and meaning of each column."""


def timing_header() -> str:
    """First line of the file, without a line break."""
    return ",".join(name for name, _ in COLUMNS)


def timing_lines(event: BarTimed) -> tuple[str, ...]:
    """Lines of the notes of a bar, each without a line break. A number that begins with a minus is no formula."""
    return tuple(f"{event.bar},{beat},{ms:.1f}" for beat, ms in event.notes)
