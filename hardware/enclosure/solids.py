"""The enclosure as solids for a 3D printer, and the panels put together, by `manifold3d`: its meshes are closed."""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Final

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold, OpType

from hardware.board.mechanics import Case, Mechanics
from hardware.enclosure.drawings import ring_of
from hardware.enclosure.panels import POST_INSET, Hole, Panel

PILLAR: Final = 9.0
"""Side of the square corner pillars of a printed box, into which the lid's screws go."""

PILOT: Final = 2.6
PILOT_DEPTH: Final = 14.0
"""Hole for an M3 screw that cuts its own thread."""

STANDOFF: Final = 7.0
"""Across the standoffs of the computer."""

GROOVE: Final = 0.5
"""Width and depth of engraved lines in millimetres."""

OVER: Final = 1.0
"""What is taken out reaches so far beyond the surface: two faces in one plane are left to chance."""

WALLS: Final = ("front", "back", "left", "right")


def plate_of(panel: Panel, thickness: float) -> Manifold:
    """A panel as a solid that lies on the ground."""
    flat = CrossSection([panel.outline], FillRule.Positive).extrude(thickness)
    return flat - openings_of(panel, thickness)


def openings_of(panel: Panel, thickness: float) -> Manifold:
    """What the holes take out of a panel that lies on the ground."""
    if not panel.holes:
        return Manifold()
    rings = [CrossSection([ring_of(hole)], FillRule.Positive) for hole in panel.holes]
    return CrossSection.batch_boolean(rings, OpType.Add).extrude(thickness + 2 * OVER).translate((0, 0, -OVER))


def put_up(flat: Mapping[str, Manifold], case: Case) -> dict[str, Manifold]:
    """Panels that lie on the ground in their places: x to the right, y away from the director, z up from the ground."""
    upright = {name: flat[name].rotate((90, 0, 0)) for name in WALLS}
    return {
        "floor": flat["floor"],
        "lid": flat["lid"].translate((0, 0, case.height - case.wall)),
        "front": upright["front"].translate((0, case.wall, 0)),
        "back": upright["back"].rotate((0, 0, 180)).translate((case.width, case.depth - case.wall, 0)),
        "right": upright["right"].rotate((0, 0, 90)).translate((case.width - case.wall, 0, 0)),
        "left": upright["left"].rotate((0, 0, -90)).translate((case.wall, case.depth, 0)),
    }


def printed(panels: Iterable[Panel], mechanics: Mechanics) -> dict[str, Manifold]:
    """Two parts to print: the box, with pillars for the lid's screws and standoffs for the computer, and the lid."""
    case, parts = mechanics.case, {panel.name: panel for panel in panels}
    tall = case.height - case.wall
    inner = Manifold.cube((case.width - 2 * case.wall, case.depth - 2 * case.wall, tall))
    box = Manifold.cube((case.width, case.depth, tall)) - inner.translate((case.wall, case.wall, case.wall))
    posts = [(x, y) for x in (POST_INSET, case.width - POST_INSET) for y in (POST_INSET, case.depth - POST_INSET)]
    for x, y in posts:
        size = POST_INSET + PILLAR / 2
        corner = (0.0 if x == POST_INSET else case.width - size, 0.0 if y == POST_INSET else case.depth - size, 0.0)
        box += Manifold.cube((size, size, tall)).translate(corner)
        box -= _bar(Hole(x, y, PILOT, PILOT, round=True), PILOT_DEPTH + OVER).translate((0, 0, tall - PILOT_DEPTH))
    standoff = case.wall + mechanics.tables["pi"]["standoff"]
    for hole in parts["floor"].holes:
        if (hole.x, hole.y) not in posts:
            box += _bar(Hole(hole.x, hole.y, STANDOFF, STANDOFF, round=True), standoff)
            box -= _bar(hole, standoff + 2 * OVER).translate((0, 0, -OVER))
    taken = put_up({name: openings_of(panel, case.wall) for name, panel in parts.items()}, case)
    for name in WALLS:
        box -= taken[name]
    lid = plate_of(parts["lid"], case.wall)
    grooves = [_groove(start, end) for line in parts["lid"].engraving for start, end in pairwise(line)]
    lid -= Manifold.batch_boolean(grooves, OpType.Add).translate((0, 0, case.wall - GROOVE))
    return {"box": box, "lid": lid}


def stl_of(solid: Manifold) -> bytes:
    """A solid as binary STL in millimetres: 80 bytes of title, the number of triangles, then each with its normal."""
    mesh = solid.to_mesh()
    corners = np.asarray(mesh.vert_properties, dtype=np.float32)[:, :3][np.asarray(mesh.tri_verts)]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    records = np.zeros(len(corners), dtype=[("normal", "<3f4"), ("corners", "<9f4"), ("rest", "<u2")])
    records["normal"], records["corners"] = normals, corners.reshape(-1, 9)
    return b"Keelnote enclosure, millimetres".ljust(80) + struct.pack("<I", len(records)) + records.tobytes()


def _bar(hole: Hole, height: float) -> Manifold:
    return CrossSection([ring_of(hole)], FillRule.Positive).extrude(height)


def _groove(start: tuple[float, float], end: tuple[float, float]) -> Manifold:
    ends = [
        CrossSection.square((GROOVE, GROOVE)).translate((point[0] - GROOVE / 2, point[1] - GROOVE / 2))
        for point in (start, end)
    ]
    return CrossSection.batch_hull(ends).extrude(2 * GROOVE)
