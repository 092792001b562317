"""The figures of the sheet: how each degree lay, which notes were furthest off, and where the time went."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from firmware.errors import KeelnoteError
from firmware.music.degree_names import MOVABLE_DO
from firmware.music.notes import parse_note
from firmware.sheet.drill_figures import past_drills
from firmware.sheet.past import Past
from firmware.sheet.rehearsal import HeldNote, KeySpan, Rehearsal

ENOUGH: Final = 3
"""Held notes without which nothing is said about a degree or a written note."""

ACCIDENTALS: Final[Mapping[str, int]] = MappingProxyType({"♭": -1, "♯": 1})


@dataclass(frozen=True, slots=True)
class DegreeFigure:
    """How the held notes of one degree, or of one written note, lay, in cents against their target.

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
    figure: str = ""
    """The degree as earlier rehearsals have it."""


@dataclass(frozen=True, slots=True)
class KeyTime:
    """Seconds in a key, and how many of them the drone sounded."""

    key: str
    seconds: float
    sounding: float


def degree_order(degree: str) -> tuple[int, int, str]:
    """Place of a degree in the scale: 1, ♭2, 2, ♭3, 3 and so on, or do, ra, re; anything else comes last."""
    syllable = MOVABLE_DO.read(degree)
    if syllable is not None:
        return (syllable, 0, degree)
    digits = degree.lstrip("".join(ACCIDENTALS))
    shift = sum(ACCIDENTALS[sign] for sign in degree[: len(degree) - len(digits)])
    return (int(digits) if digits.isdecimal() else 99, shift, degree)


def by_degree(notes: Iterable[HeldNote]) -> tuple[DegreeFigure, ...]:
    """One figure for each degree that was held, in the order of the scale."""
    groups: dict[str, list[HeldNote]] = {}
    for note in notes:
        groups.setdefault(note.degree, []).append(note)
    return tuple(_figure(degree, groups[degree]) for degree in sorted(groups, key=degree_order))


def by_key(notes: Iterable[HeldNote], least: int) -> dict[str, dict[str, DegreeFigure]]:
    """Figures of the degrees that were held `least` times, for each key; the key with the most notes first."""
    groups: dict[str, list[HeldNote]] = {}
    for note in notes:
        groups.setdefault(note.key, []).append(note)
    ordered = sorted(groups.items(), key=lambda item: -len(item[1]))
    told = {key: {one.degree: one for one in by_degree(held) if one.count >= least} for key, held in ordered}
    return {key: figures for key, figures in told.items() if key and figures}


def by_section(notes: Iterable[HeldNote]) -> dict[str, tuple[DegreeFigure, ...]]:
    """Figures of each written note, low to high, for each section; the section with the most notes first."""
    groups: dict[str, list[HeldNote]] = {}
    for note in notes:
        groups.setdefault(note.section, []).append(note)
    ordered = sorted(groups.items(), key=lambda item: -len(item[1]))
    return {name: _by_written(held) for name, held in ordered}


def _by_written(notes: list[HeldNote]) -> tuple[DegreeFigure, ...]:
    groups: dict[str, list[HeldNote]] = {}
    for note in notes:
        groups.setdefault(note.written, []).append(note)
    return tuple(_figure(name, groups[name]) for name in sorted(groups, key=pitch_order))


def pitch_order(name: str) -> tuple[int, str]:
    """Place of a written note on the staff, low to high; what is no note comes last."""
    try:
        return (parse_note(name).midi, name)
    except KeelnoteError:
        return (1000, name)


def slices(rehearsal: Rehearsal, count: int, least: int) -> tuple[tuple[float, float, float], ...]:
    """The rehearsal in equal stretches of time: start, end, and median cents of the notes that begin there.

    Stretches with fewer than `least` notes are left out.
    """
    length = max(rehearsal.seconds, 1.0) / count
    groups: dict[int, list[float]] = {}
    for note in rehearsal.notes:
        groups.setdefault(min(int(note.start_s / length), count - 1), []).append(note.median_cents)
    return tuple(
        (place * length, (place + 1) * length, statistics.median(cents))
        for place, cents in sorted(groups.items())
        if len(cents) >= least
    )


def past_of(rehearsal: Rehearsal) -> Past:
    """The figures that later rehearsals are compared with."""
    notes, timings, level = rehearsal.notes, rehearsal.timings, rehearsal.level
    timed = sum(max(pulse.count, 0) for pulse in timings)
    calibrated = level if level is not None and level.calibrated else None

    def mean(values: Iterable[float]) -> float | None:
        weighted = zip(values, timings, strict=True)
        return round(sum(value * max(one.count, 0) for value, one in weighted) / timed, 3) if timed else None

    return Past(
        number=max(rehearsal.number, 0),
        date=rehearsal.date or "",
        notes=len(notes),
        off_cents=round(statistics.median(abs(note.median_cents) for note in notes), 3) if notes else None,
        rested=sum(note.settled_after_s is not None for note in notes),
        tolerance=rehearsal.tolerance,
        timed=timed,
        late_ms=mean(pulse.median_ms for pulse in timings),
        spread_ms=mean(pulse.spread_ms for pulse in timings),
        mean_db=round(calibrated.mean_db, 1) if calibrated else None,
        dose=round(calibrated.dose, 2) if calibrated else None,
        degrees=tuple((one.degree, round(one.median, 3), one.count) for one in by_degree(notes)),
        drills=past_drills(rehearsal.drills),
    )


def before(past: Iterable[Past], degree: str, least: int) -> float | None:
    """Median of a degree at the last earlier rehearsal in which it was held `least` times."""
    found = [cents for one in past if (cents := one.degree(degree, least)) is not None]
    return found[-1] if found else None


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
        figure=notes[0].figure or degree,
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
