"""The figures of the sheet: how each degree lay, which notes were furthest off, and where the time went."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from firmware.sheet.rehearsal import HeldNote, KeySpan, Rehearsal

ACCIDENTALS: Final[Mapping[str, int]] = MappingProxyType({"♭": -1, "♯": 1})


@dataclass(frozen=True, slots=True)
class DegreeFigure:
    """How the held notes of one degree lay, in cents against its target.

    `low` and `high` are the quartiles of the notes' medians: half of the notes lie between them. `settled` of `count`
    came to rest within the tolerance; half of those did so within `settled_after_s`.
    """

    degree: str
    count: int
    median: float
    low: float
    high: float
    settled: int
    settled_after_s: float | None


@dataclass(frozen=True, slots=True)
class KeyTime:
    """Seconds in a key, and how many of them the drone sounded."""

    key: str
    seconds: float
    sounding: float


def degree_order(degree: str) -> tuple[int, int, str]:
    """Place of a degree label in the scale: 1, ♭2, 2, ♭3, 3 and so on; anything else comes last."""
    digits = degree.lstrip("".join(ACCIDENTALS))
    shift = sum(ACCIDENTALS[sign] for sign in degree[: len(degree) - len(digits)])
    return (int(digits) if digits.isdecimal() else 99, shift, degree)


def by_degree(notes: Iterable[HeldNote]) -> tuple[DegreeFigure, ...]:
    """One figure for each degree that was held, in the order of the scale."""
    groups: dict[str, list[HeldNote]] = {}
    for note in notes:
        groups.setdefault(note.degree, []).append(note)
    return tuple(_figure(degree, groups[degree]) for degree in sorted(groups, key=degree_order))


def _figure(degree: str, notes: list[HeldNote]) -> DegreeFigure:
    medians = sorted(note.median_cents for note in notes)
    low, high = medians[0], medians[-1]
    if len(medians) > 1:
        # Linear between the notes, ends included: quartiles of so few values must not lie outside of them.
        low, _, high = statistics.quantiles(medians, n=4, method="inclusive")
    rested = [note.settled_after_s for note in notes if note.settled_after_s is not None]
    return DegreeFigure(
        degree=degree,
        count=len(notes),
        median=statistics.median(medians),
        low=low,
        high=high,
        settled=len(rested),
        settled_after_s=statistics.median(rested) if rested else None,
    )


def furthest_off(notes: Iterable[HeldNote], tolerance: float, most: int = 5) -> tuple[HeldNote, ...]:
    """At most `most` notes outside the tolerance, the furthest first; of equal ones the earlier."""
    outside = [note for note in notes if abs(note.median_cents) > tolerance]
    return tuple(sorted(outside, key=lambda note: (-abs(note.median_cents), note.start_s))[:most])


def spans(rehearsal: Rehearsal) -> tuple[tuple[KeySpan, float], ...]:
    """Each stretch of one key with its end in seconds; stretches of no length are left out."""
    ordered = sorted(rehearsal.keys, key=lambda span: span.start_s)
    ends = [*(span.start_s for span in ordered[1:]), rehearsal.seconds]
    return tuple((span, end) for span, end in zip(ordered, ends, strict=False) if end > span.start_s)


def key_times(rehearsal: Rehearsal) -> tuple[KeyTime, ...]:
    """Time in each key, the longest first; of equal ones the earlier."""
    times: dict[str, KeyTime] = {}
    for span, end in spans(rehearsal):
        before = times.get(span.key, KeyTime(span.key, 0.0, 0.0))
        length = end - span.start_s
        times[span.key] = KeyTime(span.key, before.seconds + length, before.sounding + length * span.sounding)
    return tuple(sorted(times.values(), key=lambda time: -time.seconds))
