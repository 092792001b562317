"""The part of the sheet that sets a rehearsal beside earlier ones on the stick."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from firmware.sheet.figures import past_of
from firmware.sheet.html import folded, section, table, words
from firmware.sheet.past import Past
from firmware.sheet.rehearsal import Rehearsal
from firmware.sheet.svg import picture
from firmware.sheet.words import signed

MOST: Final = 12
"""Rehearsals in a picture, this one included."""

WIDTH: Final = 240
HEIGHT: Final = 80
SIDE: Final = 26
TOP: Final = 18


@dataclass(frozen=True, slots=True)
class _Measure:
    """One figure that is followed from rehearsal to rehearsal."""

    name: str
    title: str
    unit: str
    value: Callable[[Past], float | None]
    form: Callable[[float], str]


MEASURES: Final = (
    _Measure("trend-off", "Off target", "cents", lambda one: one.off_cents, "{:.0f}".format),
    _Measure("trend-rest", "Came to rest", "%", lambda one: one.rested_percent, "{:.0f}".format),
    _Measure("trend-late", "Late on the click", "ms", lambda one: one.late_ms, signed),
    _Measure("trend-spread", "Spread in time", "ms", lambda one: one.spread_ms, "{:.0f}".format),
    _Measure("trend-level", "Sound level", "dB(A)", lambda one: one.mean_db, "{:.0f}".format),
)


def trend_html(rehearsal: Rehearsal) -> str:
    """Draw up the part; nothing when there is no earlier rehearsal."""
    if not rehearsal.past:
        return ""
    evenings = (*rehearsal.past[-(MOST - 1) :], past_of(rehearsal))
    drawn = "".join(_picture(measure, evenings) for measure in MEASURES if _told(measure, evenings) >= 2)
    head = ("rehearsal", "notes", *(f"{measure.title}, {measure.unit}" for measure in MEASURES))
    figured = folded("The same in figures", table("Table of rehearsals", head, map(_row, reversed(evenings))))
    hint = "Median distance, share and means over each whole rehearsal; filled: this one."
    if len({one.tolerance for one in evenings if one.notes}) > 1:
        hint += " What counts as in tune was not the same each time, and coming to rest goes by that."
    if not drawn:
        drawn, hint = words("No figure was measured in two rehearsals yet."), ""
    told = words(hint, "hint") if hint else ""
    return section("Against earlier rehearsals", f'<div class="trends">{drawn}</div>', told, figured, kind="trend")


def _told(measure: _Measure, evenings: Sequence[Past]) -> int:
    return sum(measure.value(one) is not None for one in evenings)


def _row(one: Past) -> tuple[str, ...]:
    values = (measure.value(one) for measure in MEASURES)
    cells = ("–" if value is None else measure.form(value) for measure, value in zip(MEASURES, values, strict=True))
    return (f"{one.number}  {one.date}".rstrip(), str(one.notes), *cells)


def _picture(measure: _Measure, evenings: Sequence[Past]) -> str:
    values = [(one, measure.value(one)) for one in evenings]
    known = [value for _, value in values if value is not None]
    low, high = min(*known, 0.0), max(*known, 0.0)
    if measure.name == "trend-level":
        low, high = min(known) - 3.0, max(known) + 3.0
    reach = high - low or 1.0
    step = (WIDTH - 2 * SIDE) / max(len(values) - 1, 1)
    points = [
        (SIDE + step * place, TOP + (HEIGHT - TOP - 22) * (high - value) / reach, one, value)
        for place, (one, value) in enumerate(values)
        if value is not None
    ]
    body = [f'<path class="course" d="M{"L".join(f"{x:.1f} {y:.1f}" for x, y, _, _ in points)}"/>']
    body += [_point(measure, x, y, one, value, now=one is evenings[-1]) for x, y, one, value in points]
    labelled = points[:1] + points[1:][-1:]
    for x, y, one, value in labelled:
        body.append(f'<text class="count" x="{x:.1f}" y="{y - 8:.1f}">{escape(measure.form(value))}</text>')
        body.append(f'<text class="count" x="{x:.1f}" y="{HEIGHT - 2}">{one.number}</text>')
    told = "; ".join(f"rehearsal {one.number}: {measure.form(value)} {measure.unit}" for _, _, one, value in points)
    drawn = picture(measure.name, WIDTH, HEIGHT, f"{measure.title}. {told}.", body, "trend")
    return f"<figure><figcaption>{escape(measure.title)}, {escape(measure.unit)}</figcaption>{drawn}</figure>"


def _point(measure: _Measure, x: float, y: float, one: Past, value: float, *, now: bool) -> str:
    kind = "now" if now else "then"
    told = f"rehearsal {one.number} {one.date}".rstrip() + f": {measure.form(value)} {measure.unit}"
    return f'<g><title>{escape(told)}</title><circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="4"/></g>'
