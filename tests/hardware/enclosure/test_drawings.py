"""The drawings as other programs read them: DXF by ezdxf, SVG by an XML parser, STL by trimesh."""

from __future__ import annotations

import io
import math
import xml.etree.ElementTree as ET  # our own drawings; nothing foreign is parsed
from itertools import pairwise
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import trimesh

import hardware.enclosure
from hardware.board.mechanics import own_mechanics
from hardware.board.table import own_board
from hardware.enclosure.drawings import GAP, corners_of, dxf_of, ring_of, sheet_of, svg_of
from hardware.enclosure.export import drawings, main, solids
from hardware.enclosure.panels import Hole, panels_of

SHEETS = Path(str(hardware.enclosure.__path__[0])) / "sheets"
SVG = "{http://www.w3.org/2000/svg}"


def mechanics_and_panels():
    mechanics = own_mechanics(own_board())
    return mechanics, panels_of(mechanics)


def test_the_kept_drawings_are_those_of_the_board_file() -> None:
    for name, text in drawings().items():
        assert (SHEETS / name).read_text(encoding="utf-8") == text, f"{name}: python -m hardware.enclosure.export"


def test_panels_lie_apart_on_the_sheet() -> None:
    _, panels = mechanics_and_panels()
    placed, (width, height) = sheet_of(panels)
    boxes = [(x, y, x + panel.width, y + panel.height) for panel, (x, y) in placed]
    for box in boxes:
        assert box[0] >= GAP
        assert box[1] >= GAP
        assert box[2] <= width - GAP + 1e-9
        assert box[3] <= height - GAP + 1e-9
    for number, one in enumerate(boxes):
        for other in boxes[number + 1 :]:
            assert max(one[0] - other[2], other[0] - one[2], one[1] - other[3], other[1] - one[3]) >= GAP - 1e-9


def test_ezdxf_reads_the_same_measures() -> None:
    """Source: ezdxf, a library for DXF."""
    mechanics, panels = mechanics_and_panels()
    document = ezdxf.read(io.StringIO(dxf_of(panels)))
    assert not document.audit().has_errors
    model = document.modelspace()
    circles = model.query('CIRCLE[layer=="CUT"]')
    assert len(circles) == sum(hole.round for panel in panels for hole in panel.holes)
    keys = sorted(one.dxf.center.x for one in circles if one.dxf.radius == mechanics.tables["keys"]["hole"] / 2)
    apart = mechanics.tables["keys"]["pitch"]
    assert sum(math.isclose(b - a, apart, abs_tol=1e-3) for a, b in pairwise(keys)) >= 5
    outlines = [line for line in model.query('POLYLINE[layer=="CUT"]') if line.is_closed]
    sizes = set()
    for line in outlines:
        points = [vertex.dxf.location for vertex in line.vertices]
        span = [max(p[axis] for p in points) - min(p[axis] for p in points) for axis in (0, 1)]
        sizes.add((round(span[0], 2), round(span[1], 2)))
    screen = mechanics.tables["screen"]
    assert {(panel.width, panel.height) for panel in panels} <= sizes
    assert (screen["window_width"], screen["window_height"]) in sizes
    assert len(model.query('POLYLINE[layer=="ENGRAVE"]')) == sum(len(panel.engraving) for panel in panels)


def test_the_svg_is_in_millimetres_and_cuts_the_same() -> None:
    _, panels = mechanics_and_panels()
    root = ET.fromstring(svg_of(panels))  # noqa: S314 - our own drawing
    _, (width, height) = sheet_of(panels)
    assert (root.get("width"), root.get("height")) == (f"{width:g}mm", f"{height:g}mm")
    assert root.get("viewBox") == f"0 0 {width:g} {height:g}"
    cut, engraved = root.findall(f"{SVG}g")
    holes = [hole for panel in panels for hole in panel.holes]
    assert len(cut.findall(f"{SVG}circle")) == sum(hole.round for hole in holes)
    assert len(cut.findall(f"{SVG}path")) == len(panels) + sum(not hole.round for hole in holes)
    assert len(engraved) == sum(len(panel.engraving) for panel in panels)


def test_parts_to_print_are_closed_and_of_the_right_size(tmp_path: Path) -> None:
    """Source: trimesh, a library for meshes."""
    mechanics, _ = mechanics_and_panels()
    case = mechanics.case
    assert main([str(tmp_path)]) == 0
    sizes = {"box": case.height - case.wall, "lid": case.wall}
    assert solids().keys() == {f"{name}.stl" for name in sizes}
    for name, tall in sizes.items():
        mesh = trimesh.load(tmp_path / f"{name}.stl")
        assert mesh.is_watertight
        assert mesh.is_winding_consistent
        assert mesh.body_count == 1
        assert mesh.extents == pytest.approx((case.width, case.depth, tall), abs=1e-4)
        assert mesh.volume > 0
    box = trimesh.load(tmp_path / "box.stl")
    # Through the socket of the stick one looks into the box; beside it, onto the wall.
    stick, z = mechanics.tables["stick"], mechanics.tables["stick"]["y"] + 0.37  # no corner of a triangle lies there
    assert first_wall(box.triangles, stick["x"] + 0.21, z) < case.wall + 1.0
    assert first_wall(box.triangles, stick["x"] + 10.21, z) == pytest.approx(case.width, abs=1e-3)
    assert set(drawings()) == {path.name for path in tmp_path.iterdir()} - set(solids())


def first_wall(triangles: np.ndarray, y: float, z: float) -> float:
    """Largest x at which a line through y and z meets a triangle, shape (n, 3, 3)."""
    plane = triangles[:, :, 1:] - (y, z)
    nexts = np.roll(plane, -1, axis=1)
    turns = plane[..., 0] * nexts[..., 1] - plane[..., 1] * nexts[..., 0]
    hit = (turns > 0).all(axis=1) | (turns < 0).all(axis=1)
    weights = np.roll(turns[hit], -1, axis=1) / turns[hit].sum(axis=1, keepdims=True)
    return float((weights * triangles[hit][:, :, 0]).sum(axis=1).max())


def test_round_holes_let_their_part_through() -> None:
    ring = ring_of(Hole(5.0, 5.0, 12.2, 12.2, round=True))
    middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in pairwise((*ring, ring[0]))]
    assert min(math.dist(point, (5.0, 5.0)) for point in middles) == pytest.approx(6.1, abs=1e-6)
    assert corners_of(Hole(0.0, 0.0, 2.0, 4.0, round=False)) == ((-1, -2), (1, -2), (1, 2), (-1, 2))
