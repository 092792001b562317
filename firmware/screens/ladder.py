"""The ladder: pitch upwards, time to the right edge, a rung for each sounding degree, the heard pitch as a trail."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from firmware.screens.fonts import SMALL
from firmware.screens.raster import Box, Canvas
from firmware.screens.view import HeardNote, Rung, View

OCTAVE: Final = 1200.0
SPAN: Final = 4.0
"""Seconds of trail from one edge to the other."""

MARGIN: Final = 60.0
"""Cents shown under the tonic and over its octave."""

ZOOM: Final = 40.0
"""Cents shown on each side of the nearest rung while one player is heard."""

GRID: Final = 10
"""Cents from one light line to the next."""

SAME: Final = 3.0
"""Cents within which a rung is the one that the heard note belongs to."""

LABEL: Final = 13
"""Columns kept for the names of degrees."""

TICK: Final = 5
"""Columns of the tick at equal temperament's height."""

LEAP: Final = 150.0
PAUSE: Final = 0.3
"""Two points of the trail further apart in cents, or in seconds, are not joined."""


@dataclass(frozen=True, slots=True)
class Scale:
    """What part of the pitch axis stands where: `low` and `high` in cents at the bottom and top row of the box."""

    box: Box
    low: float
    high: float

    @property
    def left(self) -> int:
        """First column of the rungs."""
        return self.box.x + LABEL + TICK + 1

    @property
    def right(self) -> int:
        """Last column, where now is."""
        return self.box.right - 1

    def row(self, cents: float) -> int | None:
        """Row of a pitch, None when it lies beyond."""
        return self.nearest(cents) if self.low <= cents <= self.high else None

    def nearest(self, cents: float) -> int:
        """Row of a pitch, or the row at the edge beyond which it lies."""
        part = (max(self.low, min(self.high, cents)) - self.low) / (self.high - self.low)
        return self.box.bottom - 1 - round(part * (self.box.height - 1))

    def column(self, age: float) -> int | None:
        """Column of a moment some seconds ago, None when it is too long ago."""
        column = self.right - round(age / SPAN * (self.right - self.left))
        return column if self.left <= column <= self.right else None


def draw_ladder(canvas: Canvas, view: View, box: Box) -> None:
    """Draw the ladder into a box: one octave, or the surroundings of the nearest rung while one player is heard."""
    if view.heard is not None:
        draw_near(canvas, view, view.heard, box)
    else:
        draw_octave(canvas, view, box)


def draw_octave(canvas: Canvas, view: View, box: Box) -> None:
    """All rungs in one octave; the tonic's rung stands at both ends."""
    scale = Scale(box, -MARGIN, OCTAVE + MARGIN)
    taken: list[int] = []
    for rung in view.rungs:
        for octave in (0.0, OCTAVE):
            row = scale.row(rung.cents + octave)
            if row is None:
                continue
            draw_rung(canvas, scale, rung, row, scale.row(rung.equal_cents + octave))
            if all(abs(row - other) > SMALL.rise for other in taken):
                draw_label(canvas, scale, rung.degree, row)
                taken.append(row)
    draw_trail(canvas, scale, [(point.age, point.cents) for point in view.trail])


def draw_near(canvas: Canvas, view: View, heard: HeardNote, box: Box) -> None:
    """The surroundings of the target of the heard note, a light line each ten cents."""
    scale = Scale(box, -ZOOM, ZOOM)
    middle = heard.cents - heard.off
    for cents in range(-int(ZOOM), int(ZOOM) + 1, GRID):
        if cents:
            canvas.across(scale.left, scale.right, scale.nearest(cents), step=4)
    rung = rung_at(view.rungs, middle)
    centre = scale.nearest(0.0)
    draw_tolerance(canvas, scale, float(view.values.get("tolerance", 0)))
    if rung is None:
        canvas.across(scale.left, scale.right, centre, step=2)
    else:
        equal = scale.row(folded(rung.equal_cents - rung.cents))
        draw_rung(canvas, scale, rung, centre, equal)
    draw_label(canvas, scale, heard.degree, centre)
    draw_trail(canvas, scale, [(point.age, folded(point.cents - middle)) for point in view.trail], thick=True)
    top = max(box.y, min(box.bottom - 3, scale.nearest(heard.off) - 1))
    canvas.fill(Box(scale.right - 2, top, 3, 3))


def draw_rung(canvas: Canvas, scale: Scale, rung: Rung, row: int, equal: int | None) -> None:
    """One rung: as long as it is loud, dotted while it does not sound, with equal temperament's tick at its left."""
    length = max(2, round(max(0.0, min(1.0, rung.level)) * (scale.right - scale.left)))
    canvas.across(scale.left, scale.left + length, row, step=1 if rung.sounding else 3)
    if equal is not None:
        canvas.across(scale.left - TICK, scale.left - 2, equal)


def draw_tolerance(canvas: Canvas, scale: Scale, cents: float) -> None:
    """A bracket at the left over what counts as in tune."""
    if cents > 0:
        canvas.down(scale.left, scale.nearest(cents), scale.nearest(-cents))


def draw_label(canvas: Canvas, scale: Scale, degree: str, row: int) -> None:
    """Name of a degree beside its rung."""
    top = max(scale.box.y, min(scale.box.bottom - SMALL.rise, row - SMALL.rise // 2))
    canvas.text(scale.box.x, top, degree, SMALL, LABEL)


def draw_trail(canvas: Canvas, scale: Scale, points: list[tuple[float, float]], *, thick: bool = False) -> None:
    """The heard pitch over time as (seconds ago, cents); points close to each other are joined."""
    before: tuple[float, float, int, int] | None = None
    for age, cents in points:
        column, row = scale.column(age), scale.row(cents)
        if column is None or row is None:
            before = None
            continue
        joined = before is not None and abs(before[0] - age) <= PAUSE and abs(before[1] - cents) <= LEAP
        start = (before[2], before[3]) if before is not None and joined else (column, row)
        canvas.trace([start, (column, row)])
        if thick and row > scale.box.y:
            canvas.trace([(start[0], start[1] - 1), (column, row - 1)])
        before = (age, cents, column, row)


def rung_at(rungs: tuple[Rung, ...], cents: float) -> Rung | None:
    """The rung that stands at a height, octaves apart or not."""
    near = [rung for rung in rungs if abs(folded(rung.cents - cents)) <= SAME]
    return max(near, key=lambda rung: rung.level, default=None)


def folded(cents: float) -> float:
    """A difference brought to within half an octave."""
    return (cents + OCTAVE / 2) % OCTAVE - OCTAVE / 2
