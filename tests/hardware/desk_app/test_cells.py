"""The picture in characters holds every pixel: read back by the characters' Unicode names, and by Pillow."""

from __future__ import annotations

import unicodedata

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from firmware.screens.frame import HEIGHT, WIDTH, Frame
from hardware.desk_app.cells import BRAILLE_SIZE, HALF_BLOCK_SIZE, braille, drawn, half_blocks, pixels

pictures = st.binary(min_size=WIDTH * HEIGHT // 8, max_size=WIDTH * HEIGHT // 8).map(Frame)

DOT_PLACES = {1: (0, 0), 2: (1, 0), 3: (2, 0), 7: (3, 0), 4: (0, 1), 5: (1, 1), 6: (2, 1), 8: (3, 1)}
"""Row and column of each braille dot by its number (The Unicode Standard, chapter 21.1)."""

HALVES = {"SPACE": (0, 0), "UPPER HALF BLOCK": (1, 0), "LOWER HALF BLOCK": (0, 1), "FULL BLOCK": (1, 1)}
"""Upper and lower half, by the character's name in the Unicode Character Database."""


def read_braille(lines: tuple[str, ...]) -> np.ndarray:
    seen = np.zeros((HEIGHT, WIDTH), dtype=int)
    for row, line in enumerate(lines):
        for column, cell in enumerate(line):
            dots = unicodedata.name(cell).removeprefix("BRAILLE PATTERN ").removeprefix("DOTS-")
            for dot in dots if dots != "BLANK" else "":
                down, across = DOT_PLACES[int(dot)]
                seen[4 * row + down, 2 * column + across] = 1
    return seen


def read_half_blocks(lines: tuple[str, ...]) -> np.ndarray:
    halves = [[HALVES[unicodedata.name(cell)] for cell in line] for line in lines]
    return np.array(halves).transpose(0, 2, 1).reshape(HEIGHT, WIDTH)


@settings(max_examples=25)
@given(picture=pictures)
def test_every_pixel_is_in_the_characters(picture: Frame):
    seen_by_pillow = np.asarray(Image.frombytes("1", (WIDTH, HEIGHT), picture.bits)).astype(int)
    assert np.array_equal(pixels(picture), seen_by_pillow)
    assert np.array_equal(read_braille(braille(picture)), seen_by_pillow)
    assert np.array_equal(read_half_blocks(half_blocks(picture)), seen_by_pillow)


def test_the_size_of_the_window_decides():
    frame = Frame()
    assert drawn(frame, *HALF_BLOCK_SIZE) == half_blocks(frame)
    assert drawn(frame, HALF_BLOCK_SIZE[0] - 1, HALF_BLOCK_SIZE[1]) == braille(frame)
    assert drawn(frame, HALF_BLOCK_SIZE[0], HALF_BLOCK_SIZE[1] - 1) == braille(frame)
    assert drawn(frame, *BRAILLE_SIZE) == braille(frame)
    assert "64 columns and 16 lines" in drawn(frame, BRAILLE_SIZE[0] - 1, 50)[0]
    assert "64 columns and 16 lines" in drawn(frame, 500, BRAILLE_SIZE[1] - 1)[0]


def test_lines_have_the_sizes_that_are_promised():
    assert {len(line) for line in half_blocks(Frame())} == {HALF_BLOCK_SIZE[0]}
    assert {len(line) for line in braille(Frame())} == {BRAILLE_SIZE[0]}
    assert (len(half_blocks(Frame())), len(braille(Frame()))) == (HALF_BLOCK_SIZE[1], BRAILLE_SIZE[1])
