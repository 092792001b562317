"""Panels as drawings for a laser cutter: SVG in millimetres, and DXF of release 12."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Final

from firmware.screens.strokes import Point
from hardware.enclosure.panels import Hole, Panel

GAP: Final = 6.0
"""Millimetres between two panels on the sheet."""

Placed = tuple[Panel, Point]


def sheet_of(panels: Iterable[Panel]) -> tuple[tuple[Placed, ...], tuple[float, float]]:
    """Places of the panels on one sheet, and its size: lid and floor below each other, then the walls."""
    placed: list[Placed] = []
    x, y, row, widest = GAP, GAP, 0.0, 0.0
    limit = 2 * max(panel.width for panel in panels) + 3 * GAP
    for panel in panels:
        if x + panel.width + GAP > limit:
            x, y, row = GAP, y + row + GAP, 0.0
        placed.append((panel, (x, y)))
        x, row = x + panel.width + GAP, max(row, panel.height)
        widest = max(widest, x)
    return tuple(placed), (widest, y + row + GAP)


def svg_of(panels: Iterable[Panel]) -> str:
    """The sheet as SVG 1.1: what is cut in one group, what is engraved in another, one unit is one millimetre."""
    placed, (width, height) = sheet_of(tuple(panels))
    cut, engraved = [], []
    for panel, at in placed:
        cut.append(f'<path id="{panel.name}" d="{_path(panel.outline, at, height)}"/>')
        cut += [_hole(hole, at, height) for hole in panel.holes]
        engraved += [f'<path d="{_path(line, at, height, closed=False)}"/>' for line in panel.engraving]
    size = f'width="{width:g}mm" height="{height:g}mm" viewBox="0 0 {width:g} {height:g}"'
    lines = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}>',
        "<title>Keelnote: panels of the enclosure</title>",
        '<g id="cut" fill="none" stroke="#000" stroke-width="0.2">',
        *cut,
        "</g>",
        '<g id="engrave" fill="none" stroke="#777" stroke-width="0.2">',
        *engraved,
        "</g>",
        "</svg>",
    )
    return "".join(f"{line}\n" for line in lines)


def dxf_of(panels: Iterable[Panel]) -> str:
    """The sheet as DXF release 12 in millimetres, with a layer CUT and a layer ENGRAVE.

    Source: the group codes of the DXF reference (0 kind, 8 layer, 10 and 20 place, 40 radius, 70 closed), from memory.
    """
    placed, _ = sheet_of(tuple(panels))
    words: list[object] = [0, "SECTION", 2, "ENTITIES"]
    for panel, at in placed:
        words += _polyline(panel.outline, at, "CUT", closed=True)
        for hole in panel.holes:
            if hole.round:
                words += [0, "CIRCLE", 8, "CUT", 10, hole.x + at[0], 20, hole.y + at[1], 30, 0.0, 40, hole.width / 2]
            else:
                words += _polyline(corners_of(hole), at, "CUT", closed=True)
        for line in panel.engraving:
            words += _polyline(line, at, "ENGRAVE", closed=False)
    words += [0, "ENDSEC", 0, "EOF"]
    return "".join(f"{_word(word)}\n" for word in words)


def corners_of(hole: Hole) -> tuple[Point, ...]:
    """Corners of a rectangular hole against the clock."""
    half_x, half_y = hole.width / 2, hole.height / 2
    return tuple((hole.x + x * half_x, hole.y + y * half_y) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1)))


def ring_of(hole: Hole, pieces: int = 48) -> tuple[Point, ...]:
    """A hole as a polygon against the clock; a round one of as many pieces, around the circle so that parts pass."""
    if not hole.round:
        return corners_of(hole)
    radius = hole.width / 2 / math.cos(math.pi / pieces)
    angles = (2 * math.pi * number / pieces for number in range(pieces))
    return tuple((hole.x + radius * math.cos(angle), hole.y + radius * math.sin(angle)) for angle in angles)


def _path(points: Iterable[Point], at: Point, height: float, *, closed: bool = True) -> str:
    turned = (f"{x + at[0]:.3f},{height - y - at[1]:.3f}" for x, y in points)
    return "M" + " L".join(turned) + ("Z" if closed else "")


def _hole(hole: Hole, at: Point, height: float) -> str:
    if not hole.round:
        return f'<path d="{_path(corners_of(hole), at, height)}"/>'
    return f'<circle cx="{hole.x + at[0]:.3f}" cy="{height - hole.y - at[1]:.3f}" r="{hole.width / 2:.3f}"/>'


def _polyline(points: Iterable[Point], at: Point, layer: str, *, closed: bool) -> Iterator[object]:
    yield from (0, "POLYLINE", 8, layer, 66, 1, 70, int(closed))
    for x, y in points:
        yield from (0, "VERTEX", 8, layer, 10, x + at[0], 20, y + at[1], 30, 0.0)
    yield from (0, "SEQEND", 8, layer)


def _word(word: object) -> str:
    return f"{word:.4f}" if isinstance(word, float) else str(word)
