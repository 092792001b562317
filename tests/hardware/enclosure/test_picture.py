"""The picture shows every face that is seen from there, and says in words what it shows."""

from __future__ import annotations

import xml.etree.ElementTree as ET  # our own drawings; nothing foreign is parsed

from hardware.board.mechanics import own_mechanics
from hardware.board.table import own_board
from hardware.enclosure.panels import panels_of
from hardware.enclosure.picture import SHADES, picture_of

SVG = "{http://www.w3.org/2000/svg}"


def test_it_is_inside_its_frame_and_says_what_it_shows() -> None:
    mechanics = own_mechanics(own_board())
    root = ET.fromstring(picture_of(panels_of(mechanics), mechanics))  # noqa: S314 - our own drawing
    assert root.get("role") == "img"
    assert "six keys" in (root.findtext(f"{SVG}title") or "")
    left, top, width, height = (float(word) for word in (root.get("viewBox") or "").split())
    paths = root.findall(f"{SVG}g/{SVG}path")
    for path in paths:
        for pair in (path.get("d") or "").strip("MZ").split(" L"):
            x, y = (float(number) for number in pair.split(","))
            assert left < x < left + width
            assert top < y < top + height
    faces = [path for path in paths if path.get("fill") in set(SHADES.values())]
    caps = [path for path in paths if path.get("fill") == "#bbb"]
    assert len(caps) == 8  # six keys, knob, light
    assert len(faces) == len(SHADES) + len(caps)  # a cap's top is as white as the lid
