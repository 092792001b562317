"""Photographs of the screen on one page, each with its time and a caption."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PIL import Image

from firmware.screens.fonts.small import FONT
from firmware.screens.frame import HEIGHT, WIDTH, Frame
from firmware.screens.raster import mask_of

SCALE: Final = 3
"""Pixels of the page for a pixel of the screen."""
LETTERS: Final = 2
"""Pixels of the page for a pixel of a letter."""
COLUMNS: Final = 3
MARGIN: Final = 24
RIM: Final = 9
LINES: Final = 3
"""Lines under each screen: its time, and two for the caption."""
LINE_HEIGHT: Final = 22
PAPER, CASE, DARK, LIT, INK, FAINT = 244, 58, 8, 250, 20, 110
"""Shades of grey, 0 to 255."""


@dataclass(frozen=True, slots=True)
class Photograph:
    """What the screen showed, when (seconds), and what that means."""

    at: float
    caption: str
    frame: Frame


def contact_sheet(photographs: Sequence[Photograph], title: str = "", columns: int = COLUMNS) -> bytes:
    """Lay the photographs out from left to right and top to bottom; a PNG, always the same for the same pictures."""
    columns = max(1, min(columns, len(photographs)))
    rows = -(-len(photographs) // columns)
    wide, high = WIDTH * SCALE + 2 * RIM, HEIGHT * SCALE + 2 * RIM
    head = MARGIN + LINE_HEIGHT if title else 0
    step_x, step_y = wide + MARGIN, high + LINES * LINE_HEIGHT + MARGIN
    page = Image.new("L", (columns * step_x + MARGIN, head + rows * step_y + MARGIN), PAPER)
    if title:
        write(page, MARGIN, MARGIN, FONT.cut(title, (page.width - 2 * MARGIN) // LETTERS), INK)
    for index, photograph in enumerate(photographs):
        row, column = divmod(index, columns)
        _put(page, MARGIN + column * step_x, head + MARGIN + row * step_y, photograph)
    out = io.BytesIO()
    page.save(out, "PNG", optimize=True)
    return out.getvalue()


def _put(page: Image.Image, x: int, y: int, photograph: Photograph) -> None:
    wide, high = WIDTH * SCALE + 2 * RIM, HEIGHT * SCALE + 2 * RIM
    page.paste(CASE, (x, y, x + wide, y + high))
    lit = Image.frombytes("1", (WIDTH, HEIGHT), photograph.frame.bits)
    screen = lit.convert("L").point([DARK] + [LIT] * 255)
    screen = screen.resize((WIDTH * SCALE, HEIGHT * SCALE), Image.Resampling.NEAREST)
    page.paste(screen, (x + RIM, y + RIM))
    below = y + high + LETTERS * 4
    write(page, x, below, clock(photograph.at), FAINT)
    for number, line in enumerate(wrapped(photograph.caption, wide // LETTERS)[: LINES - 1], start=1):
        write(page, x, below + number * LINE_HEIGHT, line, INK)


def clock(seconds: float) -> str:
    """Time as minutes, seconds and tenths."""
    minutes, tenths = divmod(round(seconds * 10), 600)
    return f"{minutes}:{tenths // 10:02d}.{tenths % 10}"


def wrapped(text: str, room: int) -> list[str]:
    """Break a text into lines that are at most `room` columns of the small font wide."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and FONT.width(longer) <= room:
            lines[-1] = longer
        else:
            lines.append(FONT.cut(word, room))
    return lines


def write(page: Image.Image, x: int, y: int, text: str, shade: int) -> None:
    """Write one line in the small font of the box, enlarged."""
    for character in text:
        if character != " ":
            mask = mask_of(FONT.glyph(character)).convert("L")
            mask = mask.resize((mask.width * LETTERS, mask.height * LETTERS), Image.Resampling.NEAREST)
            page.paste(shade, (x, y), mask)
        x += (FONT.advance(character) + FONT.gap) * LETTERS
