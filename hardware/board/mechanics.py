"""Where everything sits in the enclosure: the openings of lid and walls, and what each keeps clear."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib import resources
from itertools import combinations
from typing import Any, Final

from firmware.errors import BadFileError
from firmware.events import Pedal
from firmware.plan.checked_toml import Entry, Section, check
from hardware.board.parts import Board

FILE: Final = "mechanics.toml"

EDGE: Final = 2.0
"""Millimetres of material that must stay between two openings' covers, and between one and the edge."""


_NUMBERS: Final = {
    "case": "width depth height wall",
    "keys": "first_x y pitch hole cap depth_below",
    "knob": "x y hole cap depth_below",
    "screen": "x y window_width window_height module_width module_height hole_pitch_x hole_pitch_y hole depth_below",
    "led": "x y hole cap depth_below",
    "pedals": "hole nut first_x pitch y depth_behind",
    "power": "x y hole cap depth_behind",
    "sound": "x y hole cap depth_behind",
    "supply": "x y width height",
    "stick": "x y width height hole_pitch hole",
    "pi": "x y width depth hole_inset hole_pitch_x hole_pitch_y hole standoff stack",
}
"""Tables of the file and their numbers, all in millimetres."""

_OTHERS: Final = {"pedals": (Entry("first", tuple(pedal.value for pedal in Pedal), required=True),)}

TABLE: Final = tuple(
    Section(
        name,
        (
            *(Entry(key, float, low=0.5, high=500.0, required=True) for key in keys.split()),
            *_OTHERS.get(name, ()),
        ),
        required=True,
    )
    for name, keys in _NUMBERS.items()
)


@dataclass(frozen=True, slots=True)
class Opening:
    """A hole or a window, by its middle, in millimetres.

    Parameters
    ----------
    name : str
        What comes through it.
    face : str
        "lid", "back" or "right".
    x, y : float
        Its middle on that face, as `mechanics.toml` counts.
    width, height : float
        Its size; both are the diameter when it is `round`.
    cover_width, cover_height : float
        What the part covers of the face, on either side of it.
    inside : float
        How far the part reaches into the box, from the outer face.
    """

    name: str
    face: str
    x: float
    y: float
    width: float
    height: float
    round: bool
    cover_width: float
    cover_height: float
    inside: float


@dataclass(frozen=True, slots=True)
class Case:
    """Outer size of the box, and the thickness of its sheets."""

    width: float
    depth: float
    height: float
    wall: float


@dataclass(frozen=True, slots=True)
class Mechanics:
    """The enclosure: its size, every opening, and the raw tables of the file for what is not an opening."""

    case: Case
    openings: tuple[Opening, ...]
    tables: Mapping[str, Any]

    def size_of(self, face: str) -> tuple[float, float]:
        """Width and height of a face."""
        case = self.case
        return {
            "lid": (case.width, case.depth),
            "back": (case.width, case.height),
            "right": (case.depth, case.height),
        }[face]


def own_text() -> str:
    """The file of the project's own drawings."""
    return resources.files("hardware.board").joinpath(FILE).read_text(encoding="utf-8")


def own_mechanics(board: Board) -> Mechanics:
    """The enclosure of the project's own drawings, for a board: its keys and pedals."""
    return read_mechanics(own_text(), FILE, board)


def read_mechanics(text: str, source: str, board: Board) -> Mechanics:
    """An enclosure from the text of its file; raises BadFileError for the first thing that is wrong in it."""
    checked = check(text, source, TABLE)
    if checked.problems:
        first = checked.problems[0]
        raise BadFileError(first.thing, first.value, first.allowed, first.remedy)
    tables = checked.values
    case = tables["case"]
    return Mechanics(
        Case(case["width"], case["depth"], case["height"], case["wall"]),
        (*_lid(tables, board), *_back(tables), *_right(tables)),
        tables,
    )


def _hole(name: str, face: str, x: float, y: float, part: Mapping[str, Any]) -> Opening:
    inside = part.get("depth_below", part.get("depth_behind", 0.0))
    cover = part.get("cap", part.get("nut", part["hole"]))
    return Opening(name, face, x, y, part["hole"], part["hole"], True, cover, cover, inside)  # noqa: FBT003 - a field


def _window(
    name: str, face: str, part: Mapping[str, Any], size: tuple[float, float], cover: tuple[float, float]
) -> Opening:
    inside = part.get("depth_below", 0.0)
    return Opening(name, face, part["x"], part["y"], *size, False, *cover, inside)  # noqa: FBT003 - a field


def _lid(tables: Mapping[str, Any], board: Board) -> Iterator[Opening]:
    keys, screen = tables["keys"], tables["screen"]
    for number, (key, _) in enumerate(board.keys.pins):
        yield _hole(f"key {key}", "lid", keys["first_x"] + number * keys["pitch"], keys["y"], keys)
    for name in ("knob", "led"):
        yield _hole(name, "lid", tables[name]["x"], tables[name]["y"], tables[name])
    size = (screen["window_width"], screen["window_height"])
    yield _window("screen", "lid", screen, size, (screen["module_width"], screen["module_height"]))


def _back(tables: Mapping[str, Any]) -> Iterator[Opening]:
    pedals, supply = tables["pedals"], tables["supply"]
    for number, pedal in enumerate(sorted(Pedal, key=lambda pedal: pedal != pedals["first"])):
        yield _hole(f"{pedal} pedal", "back", pedals["first_x"] + number * pedals["pitch"], pedals["y"], pedals)
    for name in ("power", "sound"):
        yield _hole(name, "back", tables[name]["x"], tables[name]["y"], tables[name])
    size = (supply["width"], supply["height"])
    yield _window("supply", "back", supply, size, size)


def _right(tables: Mapping[str, Any]) -> Iterator[Opening]:
    stick = tables["stick"]
    size = (stick["width"], stick["height"])
    yield _window("stick", "right", stick, size, (stick["hole_pitch"] + 2 * stick["hole"], stick["height"] + 4.0))


def clashes(mechanics: Mechanics) -> tuple[str, ...]:
    """What does not fit: openings over an edge or too near each other, parts deeper than the box, a Pi out of it."""
    return (*_over_edges(mechanics), *_too_near(mechanics), *_too_deep(mechanics))


def _over_edges(mechanics: Mechanics) -> Iterator[str]:
    for one in mechanics.openings:
        width, height = mechanics.size_of(one.face)
        half_x, half_y = one.cover_width / 2 + EDGE, one.cover_height / 2 + EDGE
        if not (half_x <= one.x <= width - half_x and half_y <= one.y <= height - half_y):
            yield f"{one.name} is over the edge of the {one.face}"
    case, pi = mechanics.case, mechanics.tables["pi"]
    if pi["x"] + pi["width"] > case.width - 2 * case.wall or pi["y"] + pi["depth"] > case.depth - 2 * case.wall:
        yield "the Pi is over the edge of the floor"


def _too_near(mechanics: Mechanics) -> Iterator[str]:
    for one, other in combinations(mechanics.openings, 2):
        apart_x = abs(one.x - other.x) - (one.cover_width + other.cover_width) / 2
        apart_y = abs(one.y - other.y) - (one.cover_height + other.cover_height) / 2
        if one.face == other.face and max(apart_x, apart_y) < EDGE:
            yield f"{one.name} and {other.name} are too near each other"


def _too_deep(mechanics: Mechanics) -> Iterator[str]:
    """Parts of the lid that would stand on the floor, and parts of any face that would reach into the Pi."""
    case, pi = mechanics.case, mechanics.tables["pi"]
    room = case.height - case.wall
    top = case.wall + pi["standoff"] + pi["stack"]
    left, front = case.wall + pi["x"], case.wall + pi["y"]
    for one in mechanics.openings:
        if one.face == "lid":
            away = _apart(one.x, one.cover_width, left, pi["width"]) or _apart(
                one.y, one.cover_height, front, pi["depth"]
            )
            if one.inside > room:
                yield f"{one.name} reaches down to the floor"
            elif not away and one.inside > case.height - top:
                yield f"{one.name} reaches down to the Pi"
        elif one.face == "back":
            x = case.width - one.x
            under = one.y - one.cover_height / 2 < top
            if (
                under
                and not _apart(x, one.cover_width, left, pi["width"])
                and one.inside > case.depth - front - pi["depth"]
            ):
                yield f"{one.name} reaches into the Pi"


def _apart(middle: float, size: float, start: float, length: float) -> bool:
    """Whether a part of some size around its middle keeps clear of a stretch."""
    return middle + size / 2 <= start or middle - size / 2 >= start + length
