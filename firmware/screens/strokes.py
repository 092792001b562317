"""Draws the large glyphs: pen strokes in a unit square, turned to pixels of any size with stems on whole pixels.

A path is text: points `x,y` (0,0 top left, 1,1 bottom right of where the middle of the pen may go), `~` after a point
rounds that corner, `z` at the end closes the path, `thin` at the start takes a finer pen. `;` parts paths.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firmware.screens.font import Glyph

FINE = 4
"""Sub-pixels along one side of a pixel; a pixel is lit when half of them are under the pen."""

THIN = 0.6
"""Width of the finer pen, as a part of the usual one."""

ROUND = 0.5523
"""Handle length of the cubic curve nearest to a quarter circle (from memory: 4/3 of the square root of 2 less 1)."""

CURVE_PIECES = 8

Point = tuple[float, float]
Pixels = NDArray[np.bool_]
Places = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pen:
    """How a font draws: height of a capital in pixels, width of the pen, and how round its corners are (0 to 1)."""

    height: int
    stem: int
    roundness: float = 0.5


@dataclass(frozen=True, slots=True)
class Corner:
    """One point of a path."""

    at: Point
    rounded: bool


def draw(paths: str, width: float, pen: Pen) -> Glyph:
    """Glyph of some paths; `width` is a part of the pen's height."""
    columns = max(pen.stem, round(width * pen.height))
    lit = np.zeros((pen.height * FINE, columns * FINE), dtype=bool)
    for path in paths.split(";"):
        ink(lit, path.split(), columns, pen)
    cover = lit.reshape(pen.height, FINE, columns, FINE).sum(axis=(1, 3))
    rows = cover * 2 >= FINE * FINE
    return Glyph(tuple("".join("#" if dot else "." for dot in row) for row in rows))


def ink(lit: Pixels, words: list[str], columns: int, pen: Pen) -> None:
    """Add one path to the sub-pixels."""
    stem = pen.stem
    if words[0] == "thin":
        words, stem = words[1:], max(1, round(pen.stem * THIN))
    closed = words[-1] == "z"
    if closed:
        words = words[:-1]
    corners = [corner_of(word, columns - stem, pen.height - stem, stem) for word in words]
    largest = pen.roundness * max(columns - stem, pen.height / 3)
    points = outline(corners, closed=closed, largest=largest)
    for (start, start_square), (end, end_square) in itertools.pairwise(points):
        segment(lit, start, end, stem, (start_square, end_square))


def corner_of(word: str, across: int, down: int, stem: int) -> Corner:
    """Corner from `x,y` or `x,y~`, with stems falling on whole pixels."""
    x, y = (float(part) for part in word.rstrip("~").split(","))
    return Corner((round(x * across) + stem / 2, round(y * down) + stem / 2), word.endswith("~"))


def outline(corners: list[Corner], *, closed: bool, largest: float) -> list[tuple[Point, bool]]:
    """Points along a path; true marks those where the pen ends square, false those inside a curve."""
    ring = [corners[-1], *corners, corners[0]] if closed else [corners[0], *corners, corners[-1]]
    points: list[tuple[Point, bool]] = []
    for before, corner, after in zip(ring, ring[1:], ring[2:], strict=False):
        if corner.rounded:
            points += [(point, False) for point in curve(before, corner, after, largest)]
        else:
            points.append((corner.at, True))
    return [*points, points[0]] if closed else points


def curve(before: Corner, corner: Corner, after: Corner, largest: float) -> list[Point]:
    """Points of the curve that replaces a corner."""
    start = toward(corner.at, before.at, reach(before, corner, largest))
    end = toward(corner.at, after.at, reach(after, corner, largest))
    first, second = between(start, corner.at, ROUND), between(end, corner.at, ROUND)
    points = []
    for piece in range(CURVE_PIECES + 1):
        t = piece / CURVE_PIECES
        weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
        ends = (start, first, second, end)
        points.append((sum(w * p[0] for w, p in zip(weights, ends, strict=True)),
                       sum(w * p[1] for w, p in zip(weights, ends, strict=True))))  # fmt: skip
    return points


def reach(neighbour: Corner, corner: Corner, largest: float) -> float:
    """How far from a corner its curve may begin, so that two curves on one side don't meet."""
    side = math.dist(neighbour.at, corner.at)
    return min(largest, side / 2 if neighbour.rounded else side)


def toward(start: Point, goal: Point, distance: float) -> Point:
    """Point at a distance from start on the way to goal."""
    side = math.dist(start, goal)
    return start if side == 0 else between(start, goal, distance / side)


def between(start: Point, goal: Point, part: float) -> Point:
    """Point that lies a part of the way from start to goal."""
    return (start[0] + (goal[0] - start[0]) * part, start[1] + (goal[1] - start[1]) * part)


def segment(lit: Pixels, start: Point, end: Point, stem: float, square: tuple[bool, bool]) -> None:
    """Light what a pen of width `stem` covers between two points; a square end reaches half a pen further."""
    length = math.dist(start, end)
    part, x, y = window(lit, start, end, stem)
    across, down = x - start[0], y - start[1]
    unit = ((end[0] - start[0]) / length, (end[1] - start[1]) / length) if length else (1.0, 0.0)
    along = across * unit[0] + down * unit[1]
    aside = np.abs(across * unit[1] - down * unit[0])
    low, high = (-stem / 2 if square[0] else 0.0), (length + stem / 2 if square[1] else length)
    part |= (aside <= stem / 2) & (along >= low) & (along <= high)
    if not square[0]:
        # The pen is round inside a curve; its other end is the next segment's start.
        part |= across * across + down * down <= stem * stem / 4


def window(lit: Pixels, start: Point, end: Point, stem: float) -> tuple[Pixels, Places, Places]:
    """The sub-pixels near a segment, as a view, with the column and row of their middles in pixels."""
    edges = []
    for axis, size in ((0, lit.shape[1]), (1, lit.shape[0])):
        first = math.floor((min(start[axis], end[axis]) - stem) * FINE)
        last = math.ceil((max(start[axis], end[axis]) + stem) * FINE)
        edges.append((min(size, max(0, first)), min(size, max(0, last))))
    (left, right), (top, bottom) = edges
    x = (np.arange(left, right) + 0.5) / FINE
    y = (np.arange(top, bottom) + 0.5) / FINE
    return lit[top:bottom, left:right], x[np.newaxis, :], y[:, np.newaxis]
