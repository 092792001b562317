"""notes.csv: every note that a player held long enough to judge, one a line, for a spreadsheet."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final

from firmware.sheet.rehearsal import HeldNote

COLUMNS: Final[tuple[tuple[str, str], ...]] = (
    ("start_s", "when the note began, seconds since the rehearsal began"),
    ("end_s", "when it ended"),
    ("key", "key of the drone at that time"),
    ("degree", "degree of the key that it is nearest to"),
    ("written", "note as the player reads it"),
    ("concert", "note as it sounds"),
    ("median_cents", "median of its pitch against the target of the degree; sharp is positive"),
    ("spread_cents", "how far its pitch wandered about that"),
    ("beats", "beats per second against the drone; empty if no rung of the degree sounded"),
    ("settled_after_s", "seconds until it stayed within the tolerance; empty if it never did"),
    ("late_ms", "milliseconds that it began after its place in the pulse, early is negative; empty without a pulse"),
)
"""Name and meaning of each column. Accidentals are written b and #: old spreadsheets garble the real signs."""

PLAIN: Final[Mapping[int, str]] = MappingProxyType(str.maketrans({"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##", "♮": ""}))

FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet would take for a formula at the start of a text; common practice is an apostrophe before it."""


def header() -> str:
    """First line of the file, without a line break."""
    return _line([name for name, _ in COLUMNS])


def note_line(note: HeldNote) -> str:
    """Line for one note, without a line break."""
    return _line([_cell(getattr(note, name)) for name, _ in COLUMNS])


def notes_text(notes: Iterable[HeldNote]) -> str:
    """The whole file."""
    return "\n".join([header(), *map(note_line, notes)]) + "\n"


def _line(cells: list[str]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow(cells)
    return out.getvalue()


def _cell(value: str | float | None) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        text = " ".join(value.translate(PLAIN).split())
        return "'" + text if text.startswith(FORMULA_STARTS) else text
    # Adding 0 turns a negative zero into zero.
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".") if math.isfinite(value) else ""
