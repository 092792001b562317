"""The six panels of the enclosure, flat: outlines with finger joints, openings, and what is engraved.

All in millimetres. Walls are drawn as seen from outside, the lid and the floor as seen from above with the director's
edge below; x to the right, y upwards.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from firmware.screens.strokes import Point
from hardware.board.mechanics import Mechanics, Opening
from hardware.enclosure.lettering import lines_of

FINGER: Final = 12.0
"""About the length of a finger of a joint."""

POST_INSET: Final = 9.0
"""From the outer edges to the middle of the four M3 spacers that hold floor and lid together."""

POST_HOLE: Final = 3.2

SLOT: Final = (3.0, 22.0)
SLOTS: Final = 9
SLOT_PITCH: Final = 8.0
"""Air for the computer: slots in the left wall."""

TEXT: Final = 4.0
TITLE: Final = 7.0
CLEAR: Final = 2.5
"""Heights of engraved words, and their distance from what they name."""

NAMES: Final = {
    "left pedal": "left",
    "right pedal": "right",
    "power": "power",
    "sound": "sound",
    "supply": "5 V",
    "stick": "stick",
}
"""What is engraved beside an opening; a key has its own name."""

Interval = tuple[float, float, bool]
"""From, to, and whether the panel reaches its outer edge there."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A round hole (width and height are its diameter) or a rectangle, by its middle."""

    x: float
    y: float
    width: float
    height: float
    round: bool


@dataclass(frozen=True, slots=True)
class Panel:
    """One panel: its size over all, outline against the clock, holes, and strokes of the engraver."""

    name: str
    width: float
    height: float
    outline: tuple[Point, ...]
    holes: tuple[Hole, ...]
    engraving: tuple[tuple[Point, ...], ...] = ()


def panels_of(mechanics: Mechanics) -> tuple[Panel, ...]:
    """All panels of an enclosure: lid, floor, front, back, left, right.

    Along each joint the fingers are counted from 0. The even ones are those of front and back along the floor, of the
    floor along the side walls, and of the side walls upright. What lies in a corner belongs to front and back, and
    hangs on their first finger.
    """
    case = mechanics.case
    width, depth, wall = case.width, case.depth, case.wall
    tall = case.height - wall  # the lid lies on the walls
    flat = ((0.0, width, True),), ((0.0, depth, True),)
    up_front = _edge(tall, wall, odd=True, corner=True, closed=False)
    up_side = _edge(tall, wall, odd=False, corner=False, closed=False)
    front = (_edge(width, wall, odd=False, corner=True), up_front, flat[0], up_front)
    side = (_edge(depth, wall, odd=True, corner=False), up_side, flat[1], up_side)
    floor = (_edge(width, wall, odd=True, corner=False), _edge(depth, wall, odd=False, corner=False))
    edges = (
        ("lid", (*flat, *flat), width, depth),
        ("floor", (*floor, *floor), width, depth),
        ("front", front, width, tall),
        ("back", front, width, tall),
        ("left", side, depth, tall),
        ("right", side, depth, tall),
    )
    return tuple(
        Panel(name, w, h, _walk(each, w, h, wall), tuple(_holes(mechanics, name)), tuple(_engraved(mechanics, name)))
        for name, each, w, h in edges
    )


def _edge(length: float, wall: float, *, odd: bool, corner: bool, closed: bool = True) -> tuple[Interval, ...]:
    """One edge with an odd number of fingers; an edge that is not `closed` has no corner at its upper end."""
    end = length - wall if closed else length
    count = 2 * max(1, round((end - wall) / FINGER / 2 - 0.5)) + 1
    step = (end - wall) / count
    fingers = [(wall + k * step, wall + (k + 1) * step, bool(k % 2) == odd) for k in range(count)]
    return ((0.0, wall, corner), *fingers, *(((end, length, corner),) if closed else ()))


def _walk(edges: tuple[tuple[Interval, ...], ...], width: float, height: float, wall: float) -> tuple[Point, ...]:
    """Outline of a panel from the profiles of its lower, right, upper and left edge, each from its low end."""
    turned = (edges[0], edges[1], _reversed(edges[2], width), _reversed(edges[3], height))
    places: tuple[Callable[[float, float], Point], ...] = (
        lambda along, inset: (along, inset),
        lambda along, inset: (width - inset, along),
        lambda along, inset: (width - along, height - inset),
        lambda along, inset: (inset, height - along),
    )
    points: list[Point] = []
    for number, (edge, place) in enumerate(zip(turned, places, strict=True)):
        length = (width, height)[number % 2]
        first = 0.0 if turned[number - 1][-1][2] else wall
        last = length - (0.0 if turned[(number + 1) % 4][0][2] else wall)
        for start, end, reaches in edge:
            for along in (max(start, first), min(end, last)):
                point = place(along, 0.0 if reaches else wall)
                if not points or point != points[-1]:
                    points.append(point)
    return tuple(points[:-1] if points[0] == points[-1] else points)


def _reversed(edge: tuple[Interval, ...], length: float) -> tuple[Interval, ...]:
    return tuple((length - end, length - start, reaches) for start, end, reaches in reversed(edge))


def _holes(mechanics: Mechanics, name: str) -> Iterator[Hole]:
    for one in mechanics.openings:
        if one.face == name:
            yield Hole(one.x, one.y, one.width, one.height, one.round)
    yield from _SCREWS.get(name, _none)(mechanics)


def _none(_: Mechanics) -> Iterator[Hole]:
    yield from ()


def _posts(mechanics: Mechanics) -> Iterator[Hole]:
    for x in (POST_INSET, mechanics.case.width - POST_INSET):
        for y in (POST_INSET, mechanics.case.depth - POST_INSET):
            yield _drilled(x, y, POST_HOLE)


def _of_lid(mechanics: Mechanics) -> Iterator[Hole]:
    screen = mechanics.tables["screen"]
    yield from _posts(mechanics)
    yield from _four(screen["x"], screen["y"], screen)


def _of_floor(mechanics: Mechanics) -> Iterator[Hole]:
    wall, pi = mechanics.case.wall, mechanics.tables["pi"]
    yield from _posts(mechanics)
    x, y = (wall + pi[axis] + pi["hole_inset"] + pi[f"hole_pitch_{axis}"] / 2 for axis in "xy")
    yield from _four(x, y, pi)


def _of_right(mechanics: Mechanics) -> Iterator[Hole]:
    stick = mechanics.tables["stick"]
    for side in (-0.5, 0.5):
        yield _drilled(stick["x"] + side * stick["hole_pitch"], stick["y"], stick["hole"])


def _of_left(mechanics: Mechanics) -> Iterator[Hole]:
    for number in range(SLOTS):
        x = mechanics.case.depth / 2 + (number - (SLOTS - 1) / 2) * SLOT_PITCH
        yield Hole(x, mechanics.case.height / 2, *SLOT, round=False)


_SCREWS: Final = {"lid": _of_lid, "floor": _of_floor, "right": _of_right, "left": _of_left}
"""What else is cut into a panel: holes for screws, and air."""


def _drilled(x: float, y: float, across: float) -> Hole:
    return Hole(x, y, across, across, round=True)


def _four(x: float, y: float, part: Mapping[str, float]) -> Iterator[Hole]:
    """Holes of a circuit board around its middle."""
    for side in (-0.5, 0.5):
        for end in (-0.5, 0.5):
            yield _drilled(x + side * part["hole_pitch_x"], y + end * part["hole_pitch_y"], part["hole"])


def _engraved(mechanics: Mechanics, name: str) -> Iterator[tuple[Point, ...]]:
    for one in mechanics.openings:
        text = _name_of(one)
        if one.face == name and text:
            above = one.y + one.cover_height / 2 + CLEAR + TEXT / 2
            yield from lines_of(text, (one.x, above), TEXT)
    if name == "front":
        yield from lines_of("Keelnote", (mechanics.case.width / 2, mechanics.case.height / 2), TITLE)


def _name_of(opening: Opening) -> str:
    return NAMES.get(opening.name, opening.name.removeprefix("key ") if opening.name.startswith("key ") else "")
