"""Values from a file that may be damaged: each is of its kind, or ValueError or TypeError is raised."""

from __future__ import annotations

import math
from typing import Final

LONGEST_SECONDS: Final = 172_800.0
"""A later time is damage, not a rehearsal: two days."""

FURTHEST: Final = 1e6
"""A figure beyond this is damage."""

PLACES: Final = 3
"""Decimals that notes.csv keeps."""


def number_of(value: object, furthest: float = FURTHEST) -> float:
    """A finite number of a sensible size."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(value)
    if abs(value) > furthest:
        raise ValueError(value)
    return float(value)


def time_of(value: object) -> float:
    """Seconds in a rehearsal."""
    seconds = number_of(value)
    if not 0.0 <= seconds <= LONGEST_SECONDS:
        raise ValueError(value)
    return seconds


def short_of(value: object) -> float:
    """A figure to the places that notes.csv keeps, so that log and table give the same sheet; no negative zero."""
    return round(number_of(value), PLACES) + 0.0


def perhaps_of(value: object) -> float | None:
    """A figure, or none."""
    return None if value is None else short_of(value)


def count_of(value: object) -> int:
    """A whole number."""
    number_of(value)
    if not isinstance(value, int):
        raise TypeError(value)
    return value


def text_of(value: object) -> str:
    """A text; half characters, which no file can hold, become question marks."""
    if not isinstance(value, str):
        raise TypeError(value)
    return value.encode("utf-8", "replace").decode("utf-8")


def truth_of(value: object) -> bool:
    """Yes or no."""
    if not isinstance(value, bool):
        raise TypeError(value)
    return value


def table_of(value: object) -> dict[str, object]:
    """A JSON object."""
    if not isinstance(value, dict):
        raise TypeError(value)
    return value


def rows_of(value: object) -> list[dict[str, object]]:
    """A JSON array of objects."""
    if not isinstance(value, list):
        raise TypeError(value)
    return [table_of(one) for one in value]
