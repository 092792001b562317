"""What a font is: glyphs as rows of dots, and the width of a text. All fonts of the box are drawn in this folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

MORE = "…"
"""Stands at the end of a text that was cut."""


@dataclass(frozen=True, slots=True)
class Glyph:
    """One character: rows from top to bottom, each a string of '#' (lit) and '.'; all rows are equally long."""

    rows: tuple[str, ...]

    @property
    def width(self) -> int:
        """Columns of the glyph."""
        return len(self.rows[0])


@dataclass(frozen=True, slots=True)
class Font:
    """A set of glyphs of one height; `gap` columns stand between two of them, `rise` is the height of a capital."""

    name: str
    rise: int
    gap: int
    space: int
    glyphs: Mapping[str, Glyph]

    @property
    def height(self) -> int:
        """Rows of every glyph, with what hangs under the line."""
        return len(next(iter(self.glyphs.values())).rows)

    def advance(self, character: str) -> int:
        """Columns of one character without the gap; an unknown one is as wide as the box that stands for it."""
        if character == " ":
            return self.space
        return self.glyph(character).width

    def glyph(self, character: str) -> Glyph:
        """Glyph of a character; an open box for one that the font lacks."""
        found = self.glyphs.get(character)
        return found if found is not None else missing(self.height, self.rise)

    def width(self, text: str) -> int:
        """Columns that a text takes."""
        if not text:
            return 0
        return sum(self.advance(character) for character in text) + self.gap * (len(text) - 1)

    def depth(self, text: str) -> int:
        """Rows that a text hangs under the line."""
        rows = [self.glyph(character).rows[self.rise :] for character in text if character != " "]
        return max((level for hung in rows for level, row in enumerate(hung, start=1) if "#" in row), default=0)

    def cut(self, text: str, room: int) -> str:
        """Text shortened so that it takes at most `room` columns."""
        if self.width(text) <= room:
            return text
        tail = MORE if MORE in self.glyphs else ""
        for end in range(len(text) - 1, 0, -1):
            shorter = text[:end].rstrip() + tail
            if self.width(shorter) <= room:
                return shorter
        return ""

    def first_that_fits(self, texts: tuple[str, ...], room: int) -> str:
        """The first of some texts, longest first, that fits; the last if none does."""
        return next((text for text in texts if self.width(text) <= room), texts[-1])


def missing(height: int, rise: int) -> Glyph:
    """The open box that stands for a character a font lacks."""
    across = max(3, rise // 2)
    rim, middle, empty = "#" * across, "#" + "." * (across - 2) + "#", "." * across
    rows = [rim, *[middle] * (rise - 2), rim, *[empty] * (height - rise)]
    return Glyph(tuple(rows))


def glyphs_of(pictures: str) -> dict[str, Glyph]:
    """Glyphs from text pictures.

    A picture block is a line of characters followed by the rows of their glyphs side by side; an empty line ends it.
    """
    glyphs: dict[str, Glyph] = {}
    for block in pictures.strip().split("\n\n"):
        head, *rows = [line.split() for line in block.strip().splitlines()]
        for column, character in enumerate(head):
            glyphs[character] = Glyph(tuple(row[column] for row in rows))
    return glyphs
