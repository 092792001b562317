"""Paints one picture. The only file that uses Pillow; it knows pixels and fonts, no music and no page."""

from __future__ import annotations

import functools
import io
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from PIL import Image, ImageDraw

from firmware.screens.font import Font, Glyph
from firmware.screens.frame import HEIGHT, WIDTH, Frame

LIT, DARK = 1, 0

SHEET_GAP = 8
GROUND = 64
CAPTION_SCALE = 2
"""On a sheet of pictures: pixels around each, grey of the ground (0 to 255), and how large captions are at most."""


class Align(StrEnum):
    """Where a text stands in its room."""

    LEFT = "left"
    MIDDLE = "middle"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Box:
    """A place on the picture: left column, top row, columns, rows."""

    x: int
    y: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """First column to the right of it."""
        return self.x + self.width

    @property
    def bottom(self) -> int:
        """First row under it."""
        return self.y + self.height


@functools.lru_cache(maxsize=512)
def mask_of(glyph: Glyph) -> Image.Image:
    """Glyph as a Pillow mask; made once."""
    image = Image.new("1", (glyph.width, len(glyph.rows)))
    image.putdata([LIT if dot == "#" else DARK for row in glyph.rows for dot in row])
    return image


class Canvas:
    """A picture in the making. `cuts` names every text that did not fit its room; tests hold it empty."""

    def __init__(self) -> None:
        self._image = Image.new("1", (WIDTH, HEIGHT))
        self._draw = ImageDraw.Draw(self._image)
        self.cuts: list[str] = []

    def text(self, x: int, y: int, text: str, font: Font, room: int, align: Align = Align.LEFT, ink: int = LIT) -> int:
        """Write text with its top left at x, y in a place `room` columns wide; answers the column after it."""
        shown = font.cut(text, room)
        if shown != text or y < 0 or y + font.rise > HEIGHT or x < 0 or x + room > WIDTH:
            self.cuts.append(text)
        spare = room - font.width(shown)
        at = x + {Align.LEFT: 0, Align.MIDDLE: spare // 2, Align.RIGHT: spare}[align]
        for character in shown:
            if character != " ":
                self._image.paste(ink, (at, y), mask_of(font.glyph(character)))
            at += font.advance(character) + font.gap
        return at - font.gap

    def glyph(self, x: int, y: int, glyph: Glyph, ink: int = LIT) -> None:
        """Put a small sign."""
        self._image.paste(ink, (x, y), mask_of(glyph))

    def fill(self, box: Box, ink: int = LIT) -> None:
        """Fill a place."""
        if box.width > 0 and box.height > 0:
            self._draw.rectangle((box.x, box.y, box.right - 1, box.bottom - 1), fill=ink)

    def frame(self, box: Box, ink: int = LIT) -> None:
        """Draw the rim of a place, its corners left open."""
        self.across(box.x + 1, box.right - 2, box.y, ink=ink)
        self.across(box.x + 1, box.right - 2, box.bottom - 1, ink=ink)
        self.down(box.x, box.y + 1, box.bottom - 2, ink=ink)
        self.down(box.right - 1, box.y + 1, box.bottom - 2, ink=ink)

    def across(self, left: int, right: int, y: int, step: int = 1, ink: int = LIT) -> None:
        """Horizontal line from column left to column right, both lit; `step` above 1 dots it."""
        if step == 1:
            self._draw.line((left, y, right, y), fill=ink)
        else:
            self._draw.point([(x, y) for x in range(left, right + 1, step)], fill=ink)

    def down(self, x: int, top: int, bottom: int, step: int = 1, ink: int = LIT) -> None:
        """Vertical line from row top to row bottom, both lit; `step` above 1 dots it."""
        if step == 1:
            self._draw.line((x, top, x, bottom), fill=ink)
        else:
            self._draw.point([(x, y) for y in range(top, bottom + 1, step)], fill=ink)

    def trace(self, points: list[tuple[int, int]], ink: int = LIT) -> None:
        """A thin line through points."""
        self._draw.line(points, fill=ink)

    def done(self) -> Frame:
        """The picture as a frame."""
        return Frame(self._image.tobytes())


def png_of(frame: Frame, scale: int = 1, margin: int = 0) -> bytes:
    """PNG of a frame, every pixel `scale` pixels wide and high, with a dark margin around it."""
    image = Image.frombytes("1", (WIDTH, HEIGHT), frame.bits)
    if scale != 1:
        image = image.resize((WIDTH * scale, HEIGHT * scale), Image.Resampling.NEAREST)
    if margin:
        whole = Image.new("1", (image.width + 2 * margin, image.height + 2 * margin))
        whole.paste(image, (margin, margin))
        image = whole
    out = io.BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()


def sheet_of(pictures: Sequence[tuple[str, Frame]], font: Font, columns: int = 4, scale: int = 2) -> bytes:
    """PNG of many pictures in rows on a grey ground, the caption of each above it."""
    across, down = WIDTH * scale + 2 * SHEET_GAP, HEIGHT * scale + font.height * CAPTION_SCALE + 2 * SHEET_GAP
    rows = max(1, -(-len(pictures) // columns))
    sheet = Image.new("L", (across * columns, down * rows), GROUND)
    for number, (caption, frame) in enumerate(pictures):
        x, y = number % columns * across + SHEET_GAP, number // columns * down + SHEET_GAP
        canvas = Canvas()
        canvas.text(0, 0, font.cut(caption, WIDTH), font, WIDTH)
        title = Image.frombytes("1", (WIDTH, HEIGHT), canvas.done().bits).crop((0, 0, WIDTH, font.height))
        size = min(scale, CAPTION_SCALE)
        title = title.resize((WIDTH * size, font.height * size), Image.Resampling.NEAREST)
        sheet.paste(255, (x, y), title)
        image = Image.frombytes("1", (WIDTH, HEIGHT), frame.bits)
        image = image.resize((WIDTH * scale, HEIGHT * scale), Image.Resampling.NEAREST)
        sheet.paste(image, (x, y + font.height * CAPTION_SCALE))
    out = io.BytesIO()
    sheet.save(out, "PNG", optimize=True)
    return out.getvalue()


def frame_of(png: bytes) -> Frame:
    """Frame of a PNG that `png_of` wrote at scale 1."""
    with Image.open(io.BytesIO(png)) as image:
        return Frame(image.convert("1").tobytes())
