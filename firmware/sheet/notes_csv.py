"""notes.csv: every note that a player held long enough to judge, one a line, for a spreadsheet."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from firmware.music.languages.english import ENGLISH
from firmware.sheet.checked import short_of, text_of, time_of
from firmware.sheet.rehearsal import HeldNote

COLUMNS: Final[tuple[tuple[str, str], ...]] = (
    ("start_s", "when the note began, seconds since the rehearsal began"),
    ("end_s", "when it ended"),
    ("key", "key of the drone at that time"),
    ("section", "whose written pitch was shown; empty for concert pitch"),
    ("degree", "degree of the key that it is nearest to"),
    ("written", "note as the player reads it"),
    ("concert", "note as it sounds"),
    ("median_cents", "median of its pitch against the target of the degree; sharp is positive"),
    ("spread_cents", "how far its pitch went about that, vibrato and all; of several players, how far they lay apart"),
    ("beats", "beats per second against the drone; empty if no rung of the degree sounded"),
    ("steadiness_cents", "how far it wandered more slowly than a vibrato"),
    ("players", "one, or several on the same note"),
    ("settled_after_s", "seconds until it stayed within the tolerance; empty if it never did"),
    ("late_ms", "milliseconds that it began after its place in the pulse, early is negative; empty without a pulse"),
    ("names", "language of the note names here: english, whatever the room speaks (B is the natural, Bb the flat)"),
)
"""Name and meaning of each column. Accidentals are written b and #: old spreadsheets garble the real signs."""

PLAIN: Final[Mapping[int, str]] = MappingProxyType(str.maketrans({"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##", "♮": ""}))

SIGNS: Final[Mapping[str, str]] = MappingProxyType({"b": "♭", "#": "♯"})
PLAIN_SIGNS: Final = re.compile(r"(?<=^[A-G])[b#]{1,2}|^[b#]{1,2}(?=\d)")
"""Accidentals after a letter that begins the text, or before a degree."""

NEEDED: Final = frozenset({"start_s", "end_s", "degree", "written", "concert", "median_cents"})
"""Columns without which the file can't be read."""

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


@dataclass(frozen=True, slots=True)
class NotesRead:
    """Notes of a table, and how many of its lines could not be read; `named` tells whether its columns have names."""

    notes: tuple[HeldNote, ...] = ()
    unread: int = 0
    named: bool = True


def read_notes(text: str) -> NotesRead:
    """Notes of the file, also after a spreadsheet has saved it: columns in any order, semicolons, decimal commas.

    A damaged line costs that line and no other.
    """
    lines = [line for line in text.lstrip("\ufeff").split("\n") if line.strip()]
    if not lines:
        return NotesRead()
    cut = max(",;\t", key=lines[0].count)
    names = _cells_of(lines[0], cut)
    if not set(names) >= NEEDED:
        return NotesRead((), len(lines), named=False)
    told = [_told(dict(zip(names, _cells_of(line, cut), strict=False)), cut) for line in lines[1:]]
    notes = sorted((note for note in told if note is not None), key=lambda note: note.start_s)
    return NotesRead(tuple(notes), len(told) - len(notes))


def _told(cells: dict[str, str], cut: str) -> HeldNote | None:
    try:
        return _note_of(cells, cut)
    except (ValueError, TypeError, KeyError):
        return None


def _cells_of(line: str, cut: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line.rstrip("\r")], delimiter=cut, strict=True), [])]
    except csv.Error:
        return []


def _note_of(cells: dict[str, str], cut: str) -> HeldNote:
    def figure(name: str) -> float | None:
        cell = cells.get(name, "")
        return short_of(float(cell if cut == "," else cell.replace(",", "."))) if cell else None

    def needed(name: str) -> float:
        return short_of(figure(name))

    start, end = time_of(needed("start_s")), time_of(needed("end_s"))
    if end < start or not cells["degree"] or cells.get("names", ENGLISH.name) not in ("", ENGLISH.name):
        raise ValueError(cells)
    return HeldNote(
        start_s=start,
        end_s=end,
        degree=signed_text(cells["degree"]),
        concert=signed_text(cells["concert"]),
        written=signed_text(cells["written"]),
        median_cents=needed("median_cents"),
        spread_cents=figure("spread_cents") or 0.0,
        beats=figure("beats"),
        steadiness_cents=figure("steadiness_cents"),
        players=text_of(cells.get("players", "")),
        settled_after_s=figure("settled_after_s"),
        key=signed_text(cells.get("key", "")),
        late_ms=figure("late_ms"),
        section=_badged(cells.get("section", "")),
    )


def signed_text(text: str) -> str:
    """Give a note, degree or key its real accidentals back: Bb major, b7, F#4."""
    text = text_of(text.removeprefix("'"))
    return PLAIN_SIGNS.sub(lambda found: "".join(SIGNS[sign] for sign in found[0]), text)


def _badged(text: str) -> str:
    """A section's transposition with its real accidental: clarinet in Bb."""
    name, found, key = text_of(text).rpartition(" in ")
    return f"{name}{found}{signed_text(key)}" if found else text_of(text)


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
