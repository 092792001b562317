"""A picture of the enclosure from the front right, drawn from the panels: SVG in black on white, to print."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Final

from firmware.screens.strokes import Point
from hardware.board.mechanics import Case, Mechanics, Opening
from hardware.enclosure.drawings import ring_of
from hardware.enclosure.panels import Hole, Panel

SCALE: Final = 3.6
MARGIN: Final = 14.0
TURN: Final = math.radians(24.0)
TILT: Final = math.radians(54.0)
"""How far the box is turned, and how far it is looked down upon."""

SHADES: Final = {"lid": "#fff", "front": "#ececec", "right": "#d8d8d8"}
CAPS: Final = {"key": 4.0, "knob": 12.0, "led": 3.0}
"""Heights over the lid of what the fingers find there, as drawn."""

RING: Final = 40

TITLE: Final = (
    "The box from the front right: six keys in a row along the near edge of the lid, the screen behind them on the"
    " left, the knob and a light on the right; a socket for the stick in the right wall"
)

Place = tuple[float, float, float]


def picture_of(panels: Iterable[Panel], mechanics: Mechanics) -> str:
    """The picture as SVG, with a text alternative."""
    case = mechanics.case
    body: list[str] = []
    for panel in panels:
        if panel.name in SHADES:
            body += _face(panel, case)
    for opening in sorted(mechanics.openings, key=lambda one: -one.y):
        kind = opening.name.split()[0]
        if opening.face == "lid" and kind in CAPS:
            body += _cap(opening, CAPS[kind], case)
    corners = [_seen((x, y, z)) for x in (0, case.width) for y in (0, case.depth) for z in (0, case.height + 15)]
    left, top = (min(point[axis] for point in corners) - MARGIN for axis in (0, 1))
    width, height = (max(p[axis] for p in corners) + MARGIN - low for axis, low in ((0, left), (1, top)))
    lines = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="{left:.1f} {top:.1f} {width:.1f} {height:.1f}">',
        f"<title>{TITLE}</title>",
        '<g stroke="#000" stroke-width="0.8" stroke-linejoin="round" fill="none">',
        *body,
        "</g>",
        "</svg>",
    )
    return "".join(f"{line}\n" for line in lines)


def _seen(place: Place) -> Point:
    """A place in the box on paper, y downwards: parallel projection."""
    x, y, z = place
    across, away = x * math.cos(TURN) + y * math.sin(TURN), y * math.cos(TURN) - x * math.sin(TURN)
    return SCALE * across, -SCALE * (z * math.cos(TILT) + away * math.sin(TILT))


def _in_place(face: str, point: Point, case: Case) -> Place:
    x, y = point
    return {"lid": (x, y, case.height), "front": (x, 0.0, y), "right": (case.width, x, y)}[face]


def _drawn(points: Iterable[Place], fill: str, *, closed: bool = True) -> str:
    path = "M" + " L".join("{:.1f},{:.1f}".format(*_seen(point)) for point in points) + ("Z" if closed else "")
    return f'<path d="{path}" fill="{fill}"/>'


def _face(panel: Panel, case: Case) -> Iterator[str]:
    tall = panel.height if panel.name == "lid" else case.height
    whole = ((0.0, 0.0), (panel.width, 0.0), (panel.width, tall), (0.0, tall))
    yield _drawn((_in_place(panel.name, point, case) for point in whole), SHADES[panel.name])
    if panel.name != "lid":
        yield _drawn((_in_place(panel.name, point, case) for point in panel.outline), "none")
    for hole in panel.holes:
        yield _drawn((_in_place(panel.name, point, case) for point in ring_of(hole, RING)), "#222")
    for line in panel.engraving:
        yield _drawn((_in_place(panel.name, point, case) for point in line), "none", closed=False)


def _cap(opening: Opening, tall: float, case: Case) -> Iterator[str]:
    """A cap that stands on the lid: what is seen of its side, and its top."""
    ring = ring_of(Hole(opening.x, opening.y, opening.cover_width, opening.cover_height, round=True), RING)
    low = [(x, y, case.height) for x, y in ring]
    high = [(x, y, case.height + tall) for x, y in ring]
    # The side is what lies between the lowest and the highest ring, so the outermost points of both bound it.
    ends = [max(range(RING), key=lambda i: sign * _seen(high[i])[0]) for sign in (-1, 1)]
    near = [low[(ends[0] + step) % RING] for step in range((ends[1] - ends[0]) % RING + 1)]
    far = [high[(ends[0] + step) % RING] for step in range((ends[1] - ends[0]) % RING + 1)]
    yield _drawn((*near, *reversed(far)), "#bbb")
    yield _drawn(high, "#fff")
