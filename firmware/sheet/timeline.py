"""The picture of the rehearsal over time: keys, held notes, takes and markers."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Final

from firmware.sheet.figures import spans
from firmware.sheet.rehearsal import HeldNote, KeySpan, Rehearsal, TakeNote
from firmware.sheet.svg import LEFT, RIGHT, height_of, lane_label, picture, reach_of
from firmware.sheet.words import clock, counted, sharp_or_flat

WIDTH: Final = 960
TOTAL: Final = 206

KEYS_TOP: Final = 4
KEYS_HEIGHT: Final = 26
NOTES_TOP: Final = 42
NOTES_HEIGHT: Final = 92
TAKES_TOP: Final = 154
TAKES_HEIGHT: Final = 20
AXIS: Final = 184

STEPS: Final = (5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600)
"""Seconds between two marks of the time axis."""

MOST_MARKS: Final = 12

LETTER: Final = 7.6
"""Width of a letter of the labels in the picture's own units, a little generous."""


@dataclass(frozen=True, slots=True)
class _Axis:
    """Time from left to right."""

    total: float

    def x(self, seconds: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * min(max(seconds / self.total, 0.0), 1.0)

    def box(self, start: float, end: float) -> tuple[float, float]:
        """Left edge and width of a stretch of time; at least wide enough to be seen."""
        return self.x(start), max(self.x(end) - self.x(start) - 1.0, 2.0)


def timeline(rehearsal: Rehearsal) -> str:
    """Keys above, held notes in the middle (sharp is up), takes with their markers below, minutes at the foot."""
    axis = _Axis(max(rehearsal.seconds, 1.0))
    keys = spans(rehearsal)
    body = [
        lane_label(KEYS_TOP + 18, "key"),
        *(_key(axis, span, end) for span, end in keys),
        *_notes(axis, rehearsal),
        lane_label(TAKES_TOP + 15, "takes"),
        *(_take(axis, take) for take in rehearsal.takes),
        *_marks(axis),
    ]
    counts = ", ".join(
        (
            counted(len({span.key for span, _ in keys}), "key"),
            counted(len(rehearsal.notes), "held note"),
            counted(len(rehearsal.takes), "take"),
        )
    )
    return picture("timeline", WIDTH, TOTAL, f"The rehearsal over {clock(axis.total)}: {counts}.", body)


def _named_box(kind: str, box: tuple[float, float], top: int, height: int, name: str, words: str) -> str:
    left, width = box
    text = ""
    if len(name) * LETTER + 10 < width:
        text = f'<text class="name {kind}" x="{left + 6:.1f}" y="{top + height - 7}">{escape(name)}</text>'
    return (
        f"<g><title>{escape(words)}</title>"
        f'<rect class="{kind}" x="{left:.1f}" y="{top}" width="{width:.1f}" height="{height}" rx="3"/>{text}</g>'
    )


def _key(axis: _Axis, span: KeySpan, end: float) -> str:
    kind = "on" if span.sounding else "off"
    words = f"{span.key}, {span.tuning}, drone {kind}, {clock(span.start_s)} to {clock(end)}"
    return _named_box(kind, axis.box(span.start_s, end), KEYS_TOP, KEYS_HEIGHT, span.key, words)


def _notes(axis: _Axis, rehearsal: Rehearsal) -> list[str]:
    reach = reach_of([note.median_cents for note in rehearsal.notes])
    upper, middle, lower = (
        height_of(sign * rehearsal.tolerance, reach, NOTES_TOP, NOTES_HEIGHT) for sign in (1, 0, -1)
    )
    right = WIDTH - RIGHT
    band = f'<rect class="band" x="{LEFT}" y="{upper:.1f}" width="{right - LEFT}" height="{lower - upper:.1f}"/>'
    target = f'<line class="target" x1="{LEFT}" x2="{right}" y1="{middle:.1f}" y2="{middle:.1f}"/>'
    edges = (lane_label(NOTES_TOP + 10, "sharp"), lane_label(NOTES_TOP + NOTES_HEIGHT - 2, "flat"))
    return [band, target, *edges, *(_note(axis, note, reach) for note in rehearsal.notes)]


def _note(axis: _Axis, note: HeldNote, reach: float) -> str:
    left, width = axis.box(note.start_s, note.end_s)
    y = height_of(note.median_cents, reach, NOTES_TOP, NOTES_HEIGHT)
    kind = "rested" if note.settled_after_s is not None else "restless"
    words = f"{note.written}, degree {note.degree}, {sharp_or_flat(note.median_cents)}, {clock(note.start_s)}"
    return (
        f"<g><title>{escape(words)}</title>"
        f'<rect class="{kind}" x="{left:.1f}" y="{y - 3.5:.1f}" width="{max(width, 7.0):.1f}" height="7" rx="3.5"/></g>'
    )


def _take(axis: _Axis, take: TakeNote) -> str:
    box = axis.box(take.start_s, take.start_s + take.seconds)
    words = f"take {take.number}, {clock(take.seconds)}, {counted(len(take.markers), 'marker')}"
    bar = _named_box("take", box, TAKES_TOP, TAKES_HEIGHT, str(take.number), words)
    return bar + "".join(_marker(axis.x(take.start_s + at)) for at, _ in take.markers)


def _marker(x: float) -> str:
    return f'<path class="marker" d="M{x:.1f} {TAKES_TOP}v-11l7 4l-7 4"/>'


def _marks(axis: _Axis) -> list[str]:
    step = next((step for step in STEPS if axis.total / step <= MOST_MARKS), STEPS[-1])
    parts = [f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{AXIS}" y2="{AXIS}"/>']
    for seconds in range(0, int(axis.total) + 1, step):
        x = axis.x(seconds)
        parts.append(f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{AXIS}" y2="{AXIS + 5}"/>')
        parts.append(f'<text class="count" x="{x:.1f}" y="{AXIS + 19}">{clock(seconds)}</text>')
    return parts
