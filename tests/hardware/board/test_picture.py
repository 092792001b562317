"""The wiring picture: up to date, whole, and with no wire or word over another."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from hardware.board.nets import nets_of, parts_of
from hardware.board.parts import Board
from hardware.board.pen import Pen, bent
from hardware.board.picture import HEIGHT, WIDTH, draw_board
from hardware.board.table import VARIANTS, own_board

FOLDER = Path(__file__).parents[3] / "hardware" / "board"
SVG = "{http://www.w3.org/2000/svg}"
A, B = (own_board(name) for name in VARIANTS)
WHOLE = replace(B, clock=replace(B.clock, fitted=True))
BOARDS = pytest.mark.parametrize("board", [A, B, WHOLE], ids=["A", "B", "with clock"])

Segment = tuple[tuple[float, float], tuple[float, float]]


def texts(board: Board) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Every text of a picture with its box: left, top, right, bottom; a letter is taken to be 0.62 of its size wide."""
    found = []
    for node in ET.fromstring(draw_board(board)).iter(f"{SVG}text"):  # noqa: S314 - our own picture
        size = {"large": 22.0, "small": 11.0, "faint": 11.0}.get(node.get("class", ""), 13.0)
        wide = 0.62 * size * len(node.text or "")
        x, y = float(node.get("x", 0)), float(node.get("y", 0))
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[node.get("text-anchor", "start")]
        found.append((node.text or "", (left, y - 0.75 * size, left + wide, y + 0.2 * size)))
    return found


def wires(board: Board) -> list[list[Segment]]:
    """The wires that leave the header, each as its segments."""
    found = []
    for node in ET.fromstring(draw_board(board)).iter(f"{SVG}polyline"):  # noqa: S314 - our own picture
        points = [tuple(map(float, point.split(","))) for point in node.get("points", "").split()]
        if points[0][0] in {490.0, 670.0}:
            found.append([(one, other) for one, other in pairwise(points)])
    return found


def cross(one: Segment, other: Segment) -> bool:
    """Whether two level or upright lines meet."""
    (ax, ay), (bx, by) = one
    (cx, cy), (dx, dy) = other
    apart_x = max(min(ax, bx), min(cx, dx)) > min(max(ax, bx), max(cx, dx))
    apart_y = max(min(ay, by), min(cy, dy)) > min(max(ay, by), max(cy, dy))
    return not apart_x and not apart_y


@pytest.mark.parametrize("variant", VARIANTS)
def test_the_picture_is_that_of_our_board(variant: str) -> None:
    kept = (FOLDER / f"wiring-{variant.lower()}.svg").read_text(encoding="utf-8")
    assert draw_board(own_board(variant)) == kept, "run python -m tests.generate"


@BOARDS
def test_every_part_and_every_place_is_on_it(board: Board) -> None:
    words = " ".join(text for text, _ in texts(board))
    for part in parts_of(board)[1:]:
        assert part.mark in words
        assert part.name in words or part.mark[0] in "RC"
    assert all(str(place) in words.split() for place in range(1, 41))


@BOARDS
def test_it_tells_those_who_cannot_see_it_the_same(board: Board) -> None:
    words = ET.fromstring(draw_board(board)).findtext(f"{SVG}desc") or ""  # noqa: S314 - our own picture
    assert all(net.name in words for net in nets_of(board))


@BOARDS
def test_no_wire_meets_another(board: Board) -> None:
    drawn = wires(board)
    assert len(drawn) >= 16
    for one, other in combinations(drawn, 2):
        assert not any(cross(a, b) for a in one for b in other), (one, other)


@BOARDS
def test_no_word_lies_over_another_or_over_the_edge(board: Board) -> None:
    placed = texts(board)
    for (one, a), (other, b) in combinations(placed, 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, (one, other)
    assert all(box[0] >= 0 and box[1] >= 0 and box[2] <= WIDTH and box[3] <= HEIGHT for _, box in placed)


def test_it_prints_in_black_on_white() -> None:
    picture = draw_board(A)
    colours = {word[:4] for word in picture.split("#")[1:]}
    assert {colour[:3] for colour in colours} <= {"000", "fff", "666"}


def test_a_moved_key_makes_it_stale() -> None:
    assert draw_board(replace(A, power=replace(A.power, pin=8))) != draw_board(A)


def test_the_check_sees_wires_that_cross() -> None:
    assert cross(((0, 0), (10, 0)), ((5, -5), (5, 5)))
    assert not cross(((0, 0), (10, 0)), ((5, 1), (5, 5)))


def test_names_are_escaped_and_straight_wires_stay_straight() -> None:
    pen = Pen(10, 10)
    pen.text(1, 1, "<&>")
    assert "&lt;&amp;&gt;" in pen.done("a", "b")
    assert len(bent((0, 0), (5, 0), 2)) == 2
