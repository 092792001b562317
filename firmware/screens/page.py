"""What a page is: a name, a title, and a function that draws its body under the header."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from firmware.screens.frame import HEIGHT
from firmware.screens.raster import Box, Canvas
from firmware.screens.view import View

TOP: Final = 14
"""First row of a page's body."""

LEFT: Final = 2
RIGHT: Final = 126
"""First column, and the first after the last, that a page uses."""

BOTTOM: Final = HEIGHT - 9
"""Top of the lowest line of small text."""

PITCH: Final = 9
"""Rows from one line of small text to the next."""


def row(top: int, left: int = LEFT, right: int = RIGHT) -> Box:
    """Place of one line of small text."""
    return Box(left, top, right - left, PITCH)


Draw = Callable[[Canvas, View], None]


@dataclass(frozen=True, slots=True)
class Page:
    """One page of the panel."""

    name: str
    title: str
    draw: Draw
