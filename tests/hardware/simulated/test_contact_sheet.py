"""The contact sheet shows every photograph, pixel for pixel, with its time and caption."""

import io

import pytest
from PIL import Image

from firmware.screens.fonts.small import FONT
from firmware.screens.frame import HEIGHT, WIDTH, Frame
from hardware.simulated.contact_sheet import (
    INK,
    LETTERS,
    MARGIN,
    RIM,
    SCALE,
    Photograph,
    clock,
    contact_sheet,
    wrapped,
)


def pictured(number: int) -> Frame:
    return Frame(bytes((number * 37 + place * place) % 256 for place in range(WIDTH * HEIGHT // 8)))


def opened(png: bytes) -> Image.Image:
    return Image.open(io.BytesIO(png))


def test_every_pixel_of_every_screen_is_there():
    photographs = [Photograph(number, f"Number {number}", pictured(number)) for number in range(5)]
    page = opened(contact_sheet(photographs, columns=2))
    wide, high = WIDTH * SCALE + 2 * RIM, HEIGHT * SCALE + 2 * RIM
    rows = (page.height - MARGIN) // 3
    for number, photograph in enumerate(photographs):
        left = MARGIN + number % 2 * (wide + MARGIN) + RIM
        top = MARGIN + number // 2 * rows + RIM
        screen = page.crop((left, top, left + WIDTH * SCALE, top + HEIGHT * SCALE))
        small = screen.resize((WIDTH, HEIGHT), Image.Resampling.NEAREST).point([0] * 128 + [255] * 128).convert("1")
        assert small.tobytes() == photograph.frame.bits
    assert high < rows


def test_captions_are_written_in_our_own_letters():
    with_words = opened(contact_sheet([Photograph(1.0, "B♭", Frame())]))
    without = opened(contact_sheet([Photograph(1.0, "", Frame())]))
    assert with_words.size == without.size
    dark = sum(count for count, shade in with_words.getcolors() if shade == INK)
    lit = sum(row.count("#") for letter in "B♭" for row in FONT.glyph(letter).rows)
    assert dark == lit * LETTERS**2


def test_the_same_pictures_give_the_same_bytes():
    photographs = [Photograph(0.5, "One", pictured(1))]
    assert contact_sheet(photographs, "Title") == contact_sheet(photographs, "Title")
    assert contact_sheet(photographs, "Title") != contact_sheet(photographs, "Other")


def test_no_photographs_still_make_a_page():
    assert opened(contact_sheet([])).width > 0


def test_long_captions_are_broken_and_cut():
    text = "The clarinet's third has come to rest on the just third of the drone and stays there for a good while"
    page = opened(contact_sheet([Photograph(1.0, text, Frame())], "x" * 500))
    assert page.width == WIDTH * SCALE + 2 * RIM + 2 * MARGIN
    assert all(FONT.width(line) <= 100 for line in wrapped(text, 100))
    assert " ".join(wrapped(text, 100)) == text
    assert FONT.width(wrapped("x" * 99, 50)[0]) <= 50
    assert wrapped("", 50) == []


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.0, "0:00.0"), (59.96, "1:00.0"), (75.24, "1:15.2"), (3600.0, "60:00.0")]
)
def test_times(seconds: float, text: str):
    assert clock(seconds) == text
