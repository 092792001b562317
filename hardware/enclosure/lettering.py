"""Words as pen strokes in millimetres, for a laser or an engraver: the letters of the screen's large figures."""

from __future__ import annotations

from typing import Final

from firmware.screens.letterforms import LETTERFORMS
from firmware.screens.strokes import Corner, Point, outline

GAP: Final = 0.22
"""Space between letters, and
a space between words, as parts of the height."""
SPACE: Final = 0.36

MORE: Final = (
    ("K", 0.68, "0,0 0,1; .9,0 0,.6; .3,.42 1,1"),
    ("P", 0.64, "0,1 0,0; 0,0 1,0~ 1,.52~ 0,.52"),
    ("R", 0.66, "0,1 0,0; 0,0 1,0~ 1,.5~ 0,.5; .45,.5 1,1"),
    ("T", 0.66, "0,0 1,0; .5,0 .5,1"),
    ("k", 0.46, "0,0 0,1; .9,.4 0,.74; .3,.64 1,1"),
    ("y", 0.52, "0,.4 .5,1; 1,.4 .4,1.25"),
)
"""Letters that the screen draws only small: character, width as a part of the height, paths."""

_FORMS: Final = {character: (width, paths) for character, width, paths in (*LETTERFORMS, *MORE)}


def width_of(text: str, height: float) -> float:
    """Width of a line of text, in the unit of its height; raises KeyError for a character that has no form."""
    widths = [SPACE if character == " " else _FORMS[character][0] + GAP for character in text]
    return height * (sum(widths) - GAP)


def lines_of(text: str, middle: Point, height: float) -> tuple[tuple[Point, ...], ...]:
    """Strokes of a line of text.

    Parameters
    ----------
    text : str
        Letters, digits and spaces.
    middle : tuple of float
        Where its middle goes; y counts upwards.
    height : float
        Of a capital.

    Returns
    -------
    tuple of tuple of points
        One polyline for each stroke of the pen.
    """
    left, top = middle[0] - width_of(text, height) / 2, middle[1] + height / 2
    lines = []
    for character in text:
        if character == " ":
            left += SPACE * height
            continue
        width, paths = _FORMS[character]
        lines += [_line(path, left, top, width * height, height) for path in paths.split(";")]
        left += (width + GAP) * height
    return tuple(lines)


def _line(path: str, left: float, top: float, width: float, height: float) -> tuple[Point, ...]:
    words = path.removeprefix("thin ").replace(" thin ", " ").split()
    closed = words[-1] == "z"
    corners = []
    for word in words[:-1] if closed else words:
        x, y = (float(part) for part in word.rstrip("~").split(","))
        corners.append(Corner((left + x * width, top - y * height), word.endswith("~")))
    points = outline(corners, closed=closed, largest=0.3 * min(width, height))
    return tuple(point for point, _ in points)
