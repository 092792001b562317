"""The figures of a rehearsal that later ones are compared with; the head of every sheet carries its own."""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass
from html import escape, unescape
from typing import Final

from firmware.errors import BadFileError
from firmware.sheet.checked import count_of, perhaps_of, rows_of, short_of, table_of, text_of

META: Final = "keelnote-figures"
LINE: Final = re.compile(rf'<meta name="{META}" content="([^"]*)">')
HEAD_BYTES: Final = 16_384
"""So much of a sheet holds its figures for certain."""

LONGEST_TEXT: Final = 200
MOST_DEGREES: Final = 40
MOST_DRILLS: Final = 16
"""So many, with names as long as they may be, still lie within `HEAD_BYTES`."""


@dataclass(frozen=True, slots=True)
class PastDrill:
    """What a group did in one sort of drill: rounds, the figure that is followed, and between what it surely lay."""

    group: str
    drill: str
    kind: str
    count: int
    value: float | None = None
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Past:
    """The figures of one rehearsal; None where there was nothing to measure.

    Parameters
    ----------
    off_cents : float or None
        Median distance of its held notes from their targets.
    rested : int
        Notes of `notes` that came to rest within `tolerance` cents.
    late_ms, spread_ms : float or None
        Against the pulse: means over all pulses, each counted by its notes.
    mean_db : float or None
        Sound level in dB(A); None if uncalibrated.
    degrees : tuple of (str, float, int)
        Degree, median in cents, notes.
    drills : tuple of PastDrill
        By group and sort of drill.
    """

    number: int
    date: str = ""
    notes: int = 0
    off_cents: float | None = None
    rested: int = 0
    tolerance: float = 5.0
    timed: int = 0
    late_ms: float | None = None
    spread_ms: float | None = None
    mean_db: float | None = None
    dose: float | None = None
    degrees: tuple[tuple[str, float, int], ...] = ()
    drills: tuple[PastDrill, ...] = ()

    @property
    def rested_percent(self) -> float | None:
        """Share of the held notes that came to rest."""
        return 100 * self.rested / self.notes if self.notes else None

    def degree(self, name: str, least: int) -> float | None:
        """Median of a degree in cents if it was held `least` times."""
        return next((cents for degree, cents, count in self.degrees if degree == name and count >= least), None)


def past_meta(past: Past) -> str:
    """The figures as a line for the head of the sheet."""
    text = json.dumps(asdict(past), ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return f'<meta name="{META}" content="{escape(text)}">'


def read_past(head: str, file: str) -> Past:
    """Figures from the beginning of a sheet.

    Raises
    ------
    BadFileError
        If there are none, or they are damaged.
    """
    found = LINE.search(head)
    try:
        return _past(table_of(json.loads(unescape(found[1] if found else ""))))
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise BadFileError("sheet", file, "a sheet of this version", 'Write it anew with "keelnote sheet".') from error


def _past(told: dict[str, object]) -> Past:
    degrees = told["degrees"]
    if not isinstance(degrees, list):
        raise TypeError(degrees)
    drills = rows_of(told.get("drills", []))  # sheets of before there were drills have none
    notes = _natural(told["notes"])
    return Past(
        number=_natural(told["number"]),
        date=text_of(told["date"])[:LONGEST_TEXT],
        notes=notes,
        off_cents=perhaps_of(told["off_cents"]),
        rested=min(_natural(told["rested"]), notes),
        tolerance=short_of(told["tolerance"]),
        timed=_natural(told["timed"]),
        late_ms=perhaps_of(told["late_ms"]),
        spread_ms=perhaps_of(told["spread_ms"]),
        mean_db=perhaps_of(told["mean_db"]),
        dose=perhaps_of(told["dose"]),
        degrees=tuple((text_of(a)[:LONGEST_TEXT], short_of(b), _natural(c)) for a, b, c in degrees[:MOST_DEGREES]),
        drills=tuple(map(_drill, drills[:MOST_DRILLS])),
    )


def _drill(told: dict[str, object]) -> PastDrill:
    return PastDrill(
        group=text_of(told["group"])[:LONGEST_TEXT],
        drill=text_of(told["drill"])[:LONGEST_TEXT],
        kind=text_of(told["kind"])[:LONGEST_TEXT],
        count=_natural(told["count"]),
        value=perhaps_of(told["value"]),
        least=perhaps_of(told["least"]),
        most=perhaps_of(told["most"]),
    )


def _natural(value: object) -> int:
    count = count_of(value)
    if count < 0:
        raise ValueError(value)
    return count
