"""Draws a picture of the OLED with characters: two pixels to a cell as half blocks, or eight as braille."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.screens.frame import HEIGHT, WIDTH, Frame

HALF_BLOCKS: Final = " ▀▄█"
"""By upper pixel plus twice the lower one."""

BRAILLE: Final = 0x2800
DOTS: Final = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], dtype=np.int64)
"""Bit of each dot in a braille cell, by row and column (The Unicode Standard, chapter 21.1, Braille Patterns)."""

HALF_BLOCK_SIZE: Final = (WIDTH, HEIGHT // 2)
BRAILLE_SIZE: Final = (WIDTH // 2, HEIGHT // 4)


def pixels(frame: Frame) -> NDArray[np.int64]:
    """Pixels as 0 and 1, shape (64, 128)."""
    return np.unpackbits(np.frombuffer(frame.bits, dtype=np.uint8)).reshape(HEIGHT, WIDTH).astype(np.int64)


def half_blocks(frame: Frame) -> tuple[str, ...]:
    """32 lines of 128 characters."""
    rows = pixels(frame)
    return tuple("".join(HALF_BLOCKS[cell] for cell in line) for line in rows[0::2] + 2 * rows[1::2])


def braille(frame: Frame) -> tuple[str, ...]:
    """16 lines of 64 characters."""
    cells = pixels(frame).reshape(HEIGHT // 4, 4, WIDTH // 2, 2)
    codes = BRAILLE + np.einsum("rycx,yx->rc", cells, DOTS)
    return tuple("".join(map(chr, line)) for line in codes)


def drawn(frame: Frame, columns: int, lines: int) -> tuple[str, ...]:
    """The picture as large as fits into so many cells; a line that says what is needed if nothing fits."""
    if columns >= HALF_BLOCK_SIZE[0] and lines >= HALF_BLOCK_SIZE[1]:
        return half_blocks(frame)
    if columns >= BRAILLE_SIZE[0] and lines >= BRAILLE_SIZE[1]:
        return braille(frame)
    return (f"Make the window larger: the picture needs {BRAILLE_SIZE[0]} columns and {BRAILLE_SIZE[1]} lines.",)
