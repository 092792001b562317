"""The panels fit together, leave every opening where the board has its parts, and engrave our own words."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest
from manifold3d import CrossSection, FillRule, Manifold, OpType

from hardware.board.mechanics import Mechanics, own_mechanics
from hardware.board.table import own_board
from hardware.enclosure.panels import Panel, panels_of
from hardware.enclosure.solids import plate_of, put_up


def own() -> Mechanics:
    return own_mechanics(own_board())


def sized(width: float, depth: float, height: float, wall: float) -> Mechanics:
    whole = own()
    return replace(whole, case=replace(whole.case, width=width, depth=depth, height=height, wall=wall))


def together(panels: tuple[Panel, ...], mechanics: Mechanics) -> dict[str, Manifold]:
    return put_up({panel.name: plate_of(panel, mechanics.case.wall) for panel in panels}, mechanics.case)


@pytest.mark.parametrize("size", [(190, 120, 50, 3), (190, 120, 50, 4), (211, 133, 61.5, 5), (170, 130, 44, 2.5)])
def test_the_panels_fill_the_shell_and_never_each_other(size: tuple[float, float, float, float]) -> None:
    mechanics = sized(*size)
    width, depth, height, wall = size
    panels = tuple(replace(panel, holes=()) for panel in panels_of(mechanics))
    solids = together(panels, mechanics)
    for one, other in itertools.combinations(solids.values(), 2):
        assert (one ^ other).volume() < 1e-6
    whole = Manifold.batch_boolean(list(solids.values()), OpType.Add)
    inner = (width - 2 * wall) * (depth - 2 * wall) * (height - 2 * wall)
    assert whole.volume() == pytest.approx(width * depth * height - inner, rel=1e-6)
    assert whole.bounding_box() == pytest.approx((0, 0, 0, width, depth, height), abs=1e-9)


def test_every_panel_is_one_piece_even_where_pieces_meet_at_a_corner() -> None:
    for panel in panels_of(own()):
        flat = CrossSection([panel.outline], FillRule.Positive)
        assert len(flat.offset(-0.5).decompose()) == 1, panel.name
        assert flat.bounds() == pytest.approx((0, 0, panel.width, panel.height), abs=1e-9)


def test_each_opening_of_the_board_goes_through_its_face() -> None:
    mechanics = own()
    panels = {panel.name: panel for panel in panels_of(mechanics)}
    for opening in mechanics.openings:
        found = [
            hole for hole in panels[opening.face].holes if math.dist((hole.x, hole.y), (opening.x, opening.y)) == 0
        ]
        assert [(hole.width, hole.height, hole.round) for hole in found] == [
            (opening.width, opening.height, opening.round)
        ]


def test_keys_lie_apart_as_the_board_says_and_the_computer_is_screwed_by_its_four_holes() -> None:
    """58 by 49 mm apart, of M2.5: the mechanical drawing of a Raspberry Pi of B size, from memory."""
    mechanics = own()
    panels = {panel.name: panel for panel in panels_of(mechanics)}
    across = mechanics.tables["keys"]["hole"]
    keys = sorted(hole.x for hole in panels["lid"].holes if hole.width == across)
    assert len(keys) == 6
    assert [b - a for a, b in itertools.pairwise(keys)] == pytest.approx([mechanics.tables["keys"]["pitch"]] * 5)
    screws = sorted((hole.x, hole.y) for hole in panels["floor"].holes if hole.width == 2.7)
    assert screws[3][0] - screws[0][0] == pytest.approx(58.0)
    assert screws[3][1] - screws[0][1] == pytest.approx(49.0)


def test_nothing_is_cut_or_engraved_over_an_edge_or_a_hole() -> None:
    for panel in panels_of(own()):
        flat = plate_of(replace(panel, holes=()), 1.0).project().offset(-1.0)
        for hole in panel.holes:
            for x, y in itertools.product((-0.5, 0.5), repeat=2):
                corner = (hole.x + x * hole.width, hole.y + y * hole.height)
                assert _inside(flat, corner), (panel.name, hole)
        for point in itertools.chain(*panel.engraving):
            assert _inside(flat, point), panel.name
            for hole in panel.holes:
                away = max(abs(point[0] - hole.x) - hole.width / 2, abs(point[1] - hole.y) - hole.height / 2)
                assert away > 0.5, (panel.name, hole)


def _inside(flat: CrossSection, point: tuple[float, float]) -> bool:
    dot = CrossSection.square((0.01, 0.01)).translate((point[0] - 0.005, point[1] - 0.005))
    return (flat ^ dot).area() > 0.9 * dot.area()


def test_words_are_engraved_where_hands_look_for_them() -> None:
    strokes = {panel.name: len(panel.engraving) for panel in panels_of(own())}
    assert strokes["lid"] > 20
    assert strokes["front"] >= 8
    assert strokes["back"] > 10
    assert strokes["floor"] == strokes["left"] == 0
