"""The picture of the rehearsal over time: plan, keys, tempo, held notes, takes and markers, one lane each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final, TypeVar

from firmware.sheet.figures import ENOUGH, slices, spans
from firmware.sheet.html import table
from firmware.sheet.rehearsal import PulseSpan, Rehearsal, TakeNote
from firmware.sheet.svg import LEFT, RIGHT, height_of, lane_label, picture, reach_of
from firmware.sheet.words import clock, counted, sharp_or_flat

WIDTH: Final = 960
BOX: Final = 22
GAP: Final = 7
NOTES_HEIGHT: Final = 92
FLAG: Final = 12
"""Height of the flags that stand on the takes."""

STEPS: Final = (5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600)
"""Seconds between two marks of the time axis."""

MOST_MARKS: Final = 12
SLICES: Final = 40
"""Stretches of time whose middle the line through the notes joins."""

LETTER: Final = 7.6
"""Width of a letter of the labels in the picture's own units, a little generous."""

MOST_BOXES: Final = 400
"""Boxes in one lane at most; a rehearsal has some dozens."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class _Axis:
    """Time from left to right."""

    total: float

    def x(self, seconds: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * min(max(seconds / self.total, 0.0), 1.0)

    def box(self, start: float, end: float) -> tuple[float, float]:
        """Left edge and width of a stretch of time; at least wide enough to be seen."""
        return self.x(start), max(self.x(end) - self.x(start) - 1.0, 2.0)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A box of a lane: from, to, its style, its label, and the words to point at."""

    start: float
    end: float
    kind: str
    label: str
    words: str


def timeline(rehearsal: Rehearsal) -> str:
    """Lanes one under the other; of the notes sharp is up, and the line joins the medians of short stretches."""
    axis = _Axis(max(rehearsal.seconds, 1.0))
    body: list[str] = []
    y = 4.0
    for name, stretches in (("plan", _plan(rehearsal)), ("key", _keys(rehearsal)), ("tempo", _tempos(rehearsal))):
        if stretches or name == "key":
            body += [lane_label(y + 15, name), *(_boxed(axis, y, one) for one in _merged(stretches, axis))]
            y += BOX + GAP
    body += _notes(axis, rehearsal, y)
    y += NOTES_HEIGHT + GAP + FLAG
    body += [lane_label(y + 15, "takes"), *(_take(axis, take, y) for take in rehearsal.takes)]
    y += BOX + GAP
    return picture("timeline", WIDTH, round(y) + 24, _told(rehearsal, axis.total), [*body, *_marks(axis, y)])


def _told(rehearsal: Rehearsal, total: float) -> str:
    counts = (
        counted(len({span.key for span, _ in spans(rehearsal)}), "key"),
        counted(len(rehearsal.notes), "held note"),
        counted(len(rehearsal.takes), "take"),
    )
    return f"The rehearsal over {clock(total)}: {', '.join(counts)}."


def story_table(rehearsal: Rehearsal) -> str:
    """The same as a table: each key with its time, how the notes lay in it, and the takes that began."""
    rows = []
    for span, end in _joined(rehearsal):
        cents = sorted(note.median_cents for note in rehearsal.notes if span <= note.start_s < end[0])
        middle = sharp_or_flat(cents[len(cents) // 2]) if cents else "–"
        takes = ", ".join(str(take.number) for take in rehearsal.takes if span <= take.start_s < end[0])
        rows.append((f"{clock(span)}–{clock(end[0])}", end[1], end[2], str(len(cents)), middle, takes or "–"))
    head = ("time", "key", "drone", "notes", "in the middle", "takes begun")
    return table("Table of the keys", head, rows, "Key by key: how many notes were held, and how they lay.")


def _joined(rehearsal: Rehearsal) -> list[tuple[float, tuple[float, str, str]]]:
    """Stretches of one key, drone on and off together: (start, (end, key, how long the drone sounded))."""
    found: list[tuple[float, float, str, float]] = []
    for span, end in spans(rehearsal):
        on = (end - span.start_s) * span.sounding
        if found and found[-1][2] == span.key:
            start, _, key, before = found.pop()
            found.append((start, end, key, before + on))
        else:
            found.append((span.start_s, end, span.key, on))
    return [(start, (end, key, f"on {clock(on)}" if on else "off")) for start, end, key, on in found]


def _plan(rehearsal: Rehearsal) -> list[_Stretch]:
    return [
        _Stretch(one.start_s, end, "step", one.title, f"{one.title}, {clock(one.start_s)} to {clock(end)}")
        for one, end in _until(rehearsal.steps, [step.start_s for step in rehearsal.steps], rehearsal.seconds)
    ]


def _keys(rehearsal: Rehearsal) -> list[_Stretch]:
    found = []
    for span, end in spans(rehearsal):
        kind = "on" if span.sounding else "off"
        words = f"{span.key}, {span.tuning}, drone {kind}, {clock(span.start_s)} to {clock(end)}"
        found.append(_Stretch(span.start_s, end, kind, span.key, words))
    return found


def _tempos(rehearsal: Rehearsal) -> list[_Stretch]:
    found = []
    starts = [one.start_s for one in rehearsal.pulses]
    for one, end in _until(rehearsal.pulses, starts, rehearsal.seconds):
        if one.tempo:
            label = tempo_text(one)
            words = f"{label} beats a minute, {one.meter}, {clock(one.start_s)} to {clock(end)}"
            found.append(_Stretch(one.start_s, end, "tempo", label, words))
    return found


def tempo_text(span: PulseSpan) -> str:
    """Tempo as a label: "92", or where it goes to: "92 → 60"."""
    return f"{span.tempo:g}" if span.to == span.tempo else f"{span.tempo:g} → {span.to:g}"


def _until(things: Sequence[T], starts: list[float], last: float) -> list[tuple[T, float]]:
    ends = [*starts[1:], last]
    return [(thing, end) for thing, start, end in zip(things, starts, ends, strict=False) if end > start]


def _merged(stretches: Iterable[_Stretch], axis: _Axis) -> list[_Stretch]:
    """Leave out what is too short to be seen, so that a knob turned through many values makes no clutter."""
    shown = [one for one in stretches if axis.x(one.end) - axis.x(one.start) >= 0.5]
    return shown[:MOST_BOXES]


def _boxed(axis: _Axis, top: float, one: _Stretch) -> str:
    left, width = axis.box(one.start, one.end)
    room = int((width - 10) / LETTER)
    label = one.label if len(one.label) <= room else (one.label[: room - 1] + "…" if room >= 5 else "")
    text = f'<text class="name {one.kind}" x="{left + 6:.1f}" y="{top + BOX - 6:.1f}">{escape(label)}</text>'
    return (
        f"<g><title>{escape(one.words)}</title>"
        f'<rect class="{one.kind}" x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" height="{BOX}" rx="3"/>'
        f"{text if label else ''}</g>"
    )


def _notes(axis: _Axis, rehearsal: Rehearsal, top: float) -> list[str]:
    reach = reach_of([note.median_cents for note in rehearsal.notes])

    def height(cents: float) -> float:
        return height_of(cents, reach, top, NOTES_HEIGHT)

    upper, lower = height(rehearsal.tolerance), height(-rehearsal.tolerance)
    right = WIDTH - RIGHT
    parts = [
        f'<rect class="band" x="{LEFT}" y="{upper:.1f}" width="{right - LEFT}" height="{lower - upper:.1f}"/>',
        f'<line class="target" x1="{LEFT}" x2="{right}" y1="{height(0):.1f}" y2="{height(0):.1f}"/>',
        lane_label(top + 10, f"+{reach:g}"),
        lane_label(height(0) + 4, "cents"),
        lane_label(top + NOTES_HEIGHT - 2, f"−{reach:g}"),
    ]
    rested, restless = set(), set()
    for note in rehearsal.notes:
        left, width = axis.box(note.start_s, note.end_s)
        x, y = round(left * 2) / 2, round(height(note.median_cents) * 2) / 2
        if note.settled_after_s is None:
            restless.add((x, y))
        else:
            rested.add((x, y, round(min(max(width, 3.0), 24.0))))
    parts.append(_path("rested", (f"M{x:g} {y:g}h{width:g}" for x, y, width in sorted(rested))))
    parts.append(_path("restless", (f"M{x:g} {y - 2:g}l2 2l-2 2l-2-2z" for x, y in sorted(restless))))
    middles = [(axis.x((a + b) / 2), height(cents)) for a, b, cents in slices(rehearsal, SLICES, ENOUGH)]
    if len(middles) > 2:
        line = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in middles)
        parts += [_path("halo", (line,)), _path("course", (line,))]
    return parts


def _path(kind: str, strokes: Iterable[str]) -> str:
    drawn = "".join(strokes)
    return f'<path class="{kind}" d="{drawn}"/>' if drawn else ""


def _take(axis: _Axis, take: TakeNote, top: float) -> str:
    words = f"take {take.number}, {clock(take.seconds)}, {counted(len(take.markers), 'marker')}"
    bar = _boxed(axis, top, _Stretch(take.start_s, take.start_s + take.seconds, "take", str(take.number), words))
    flags = sorted({round(axis.x(take.start_s + at), 1) for at, _ in take.markers})
    return bar + _path("marker", (f"M{x:g} {top:g}v-11l7 4l-7 4" for x in flags))


def _marks(axis: _Axis, top: float) -> list[str]:
    step = next((step for step in STEPS if axis.total / step <= MOST_MARKS), STEPS[-1])
    while axis.total / step > MOST_MARKS:
        step *= 2
    parts = [f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{top:.1f}" y2="{top:.1f}"/>']
    for seconds in range(0, int(axis.total) + 1, step):
        x = axis.x(seconds)
        parts.append(f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{top:.1f}" y2="{top + 5:.1f}"/>')
        middle = min(x, WIDTH - 26)
        parts.append(f'<text class="count" x="{middle:.1f}" y="{top + 19:.1f}">{clock(seconds)}</text>')
    return parts
