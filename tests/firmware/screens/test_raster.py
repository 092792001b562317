"""The canvas: what is painted where, what is reported as cut, and PNG there and back."""

from __future__ import annotations

import io

from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from firmware.screens.fonts import HUGE, SMALL
from firmware.screens.frame import HEIGHT, WIDTH, Frame
from firmware.screens.raster import (
    CAPTION_SCALE,
    DARK,
    GROUND,
    SHEET_GAP,
    Align,
    Box,
    Canvas,
    frame_of,
    png_of,
    sheet_of,
)


def test_a_text_is_painted_as_its_glyphs() -> None:
    canvas = Canvas()
    end = canvas.text(10, 5, "L", SMALL, 20)
    frame = canvas.done()
    for y, row in enumerate(SMALL.glyphs["L"].rows):
        assert [frame.lit(10 + x, 5 + y) for x in range(len(row))] == [dot == "#" for dot in row]
    assert end == 10 + SMALL.width("L")


def test_texts_stand_left_in_the_middle_or_right() -> None:
    for align, first in ((Align.LEFT, 0), (Align.MIDDLE, 50), (Align.RIGHT, 99)):
        canvas = Canvas()
        canvas.text(0, 0, "l", SMALL, 101, align)
        lit = [x for x in range(WIDTH) if canvas.done().lit(x, 3)]
        assert abs(lit[0] - first) <= 1


def test_what_does_not_fit_is_named() -> None:
    canvas = Canvas()
    canvas.text(0, 0, "harmonic minor", SMALL, 30)
    canvas.text(100, 0, "B", SMALL, 40)
    canvas.text(0, HEIGHT - HUGE.rise + 1, "B", HUGE, 40)
    assert canvas.cuts == ["harmonic minor", "B", "B"]


def test_lines_boxes_and_dots() -> None:
    canvas = Canvas()
    canvas.fill(Box(0, 0, 4, 3))
    canvas.fill(Box(1, 1, 1, 1), DARK)
    canvas.fill(Box(50, 50, 0, 5))
    canvas.across(10, 14, 20)
    canvas.across(10, 14, 22, step=2)
    canvas.down(30, 10, 12)
    canvas.down(32, 10, 12, step=2)
    canvas.trace([(60, 1)])
    canvas.trace([(40, 40), (44, 44)])
    frame = canvas.done()
    assert [[frame.lit(x, y) for x in range(5)] for y in range(4)] == [
        [True, True, True, True, False],
        [True, False, True, True, False],
        [True, True, True, True, False],
        [False] * 5,
    ]
    assert not any(frame.lit(50, y) for y in range(50, 55))
    assert [frame.lit(x, 20) for x in range(9, 16)] == [False, True, True, True, True, True, False]
    assert [frame.lit(x, 22) for x in range(9, 16)] == [False, True, False, True, False, True, False]
    assert [frame.lit(30, y) for y in range(9, 14)] == [False, True, True, True, False]
    assert [frame.lit(32, y) for y in range(9, 14)] == [False, True, False, True, False]
    assert all(frame.lit(40 + step, 40 + step) for step in range(5))


def test_a_frame_has_open_corners() -> None:
    canvas = Canvas()
    canvas.frame(Box(5, 5, 10, 8))
    frame = canvas.done()
    assert not frame.lit(5, 5)
    assert frame.lit(6, 5)
    assert frame.lit(5, 6)
    assert frame.lit(14, 11)
    assert not frame.lit(14, 12)


@given(st.binary(min_size=WIDTH * HEIGHT // 8, max_size=WIDTH * HEIGHT // 8))
def test_a_picture_survives_its_png(bits: bytes) -> None:
    assert frame_of(png_of(Frame(bits))) == Frame(bits)


def test_a_png_can_be_larger_and_have_a_margin() -> None:
    canvas = Canvas()
    canvas.fill(Box(0, 0, 1, 1))
    with Image.open(io.BytesIO(png_of(canvas.done(), scale=3, margin=5))) as image:
        assert image.size == (WIDTH * 3 + 10, HEIGHT * 3 + 10)
        assert image.getpixel((5, 5))
        assert image.getpixel((7, 7))
        assert not image.getpixel((8, 8))
        assert not image.getpixel((4, 4))


def test_a_sheet_holds_every_picture_with_its_caption() -> None:
    canvas = Canvas()
    canvas.fill(Box(0, 0, WIDTH, HEIGHT))
    full = canvas.done()
    png = sheet_of([("first", full), ("a caption that is longer than its picture", Frame()), ("3", full)], SMALL, 2, 1)
    with Image.open(io.BytesIO(png)) as image:
        across, down = WIDTH + 2 * SHEET_GAP, HEIGHT + SMALL.height * CAPTION_SCALE + 2 * SHEET_GAP
        assert image.size == (2 * across, 2 * down)
        top = SHEET_GAP + SMALL.height * CAPTION_SCALE
        assert image.getpixel((SHEET_GAP, top)) == 255
        assert image.getpixel((across + SHEET_GAP, top)) == 0
        assert image.getpixel((SHEET_GAP, down + top)) == 255
        assert image.getpixel((across + SHEET_GAP, down + top)) == GROUND
        caption = image.crop((SHEET_GAP, SHEET_GAP, SHEET_GAP + 60, SHEET_GAP + 9))
        assert caption.getextrema() == (GROUND, 255)


def test_an_empty_sheet_is_still_a_picture() -> None:
    with Image.open(io.BytesIO(sheet_of([], SMALL))) as image:
        assert image.getextrema() == (GROUND, GROUND)
