"""Fonts: widths, cutting, and that everything the box writes can be written."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.music.modes import MODES
from firmware.music.transposition import INSTRUMENTS
from firmware.music.tunings import TUNINGS
from firmware.screens.font import MORE, Font, Glyph, glyphs_of, missing
from firmware.screens.fonts import FONTS, HUGE, LARGE, MIDDLE, SMALL

MUSIC = "ABCDEFG♭♯♮0123456789"


@pytest.mark.parametrize("font", FONTS, ids=lambda font: font.name)
def test_all_glyphs_of_a_font_are_equally_high_and_even(font: Font) -> None:
    for character, glyph in font.glyphs.items():
        assert len(glyph.rows) == font.height, character
        assert {len(row) for row in glyph.rows} == {glyph.width}, character
        assert set("".join(glyph.rows)) <= {"#", "."}, character
        assert "#" in "".join(glyph.rows), character


@pytest.mark.parametrize("font", FONTS, ids=lambda font: font.name)
def test_every_font_has_notes_and_figures(font: Font) -> None:
    assert [character for character in MUSIC if character not in font.glyphs] == []


def test_no_two_characters_look_alike() -> None:
    # A hyphen and a minus sign, and strokes of one length, may; anything a player reads may not.
    for font in FONTS:
        pictures = [font.glyphs[character].rows for character in MUSIC]
        assert len(set(pictures)) == len(pictures), font.name
    assert SMALL.glyphs["♯"] != SMALL.glyphs["#"]
    assert SMALL.glyphs["♭"] != SMALL.glyphs["b"]


def test_small_font_writes_every_title() -> None:
    titles = "".join(thing.title for registry in (MODES, TUNINGS, INSTRUMENTS) for thing in registry)
    assert {character for character in titles if character != " " and character not in SMALL.glyphs} == set()


def test_small_font_writes_all_of_ascii_that_can_be_seen() -> None:
    seen = {chr(code) for code in range(33, 127)}
    assert seen - set(SMALL.glyphs) <= set("$@\\^`{|}~")


def test_sizes_suit_a_reader_at_one_and_a_half_metres() -> None:
    assert HUGE.rise >= 28
    assert LARGE.rise >= 20
    assert MIDDLE.rise > SMALL.rise == 7


def test_width_counts_gaps_only_between_characters() -> None:
    one, two = SMALL.width("B"), SMALL.width("BB")
    assert two == 2 * one + SMALL.gap
    assert SMALL.width("") == 0


def test_unknown_characters_become_an_open_box() -> None:
    assert SMALL.glyph("漢") == missing(SMALL.height, SMALL.rise)
    assert SMALL.advance("漢") == SMALL.glyph("漢").width > 0


def test_depth_tells_what_hangs_under_the_line() -> None:
    assert SMALL.depth("Bb major") == 2
    assert SMALL.depth("a, b") == 1
    assert SMALL.depth("B♭ 4") == 0
    assert HUGE.depth("G") == 0


@given(st.text(max_size=40), st.integers(0, 130))
def test_a_cut_text_always_fits(text: str, room: int) -> None:
    for font in (SMALL, LARGE):
        shown = font.cut(text, room)
        assert font.width(shown) <= room
        assert shown == text or len(shown) <= len(text) + len(MORE)


def test_a_text_that_fits_is_left_alone() -> None:
    assert SMALL.cut("B♭ major", 100) == "B♭ major"
    assert SMALL.cut("harmonic minor", 40).endswith(MORE)


def test_pictures_become_glyphs() -> None:
    glyphs = glyphs_of("a b\n# .#\n. ##\n\nc\n###\n...")
    assert glyphs == {"a": Glyph(("#", ".")), "b": Glyph((".#", "##")), "c": Glyph(("###", "..."))}
