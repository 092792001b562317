"""Colours have the contrast that WCAG 2.2 (W3C) asks for; formulas under "contrast ratio" and "relative luminance"."""

from collections.abc import Mapping

import pytest

from firmware.sheet.style import BAR, DARK, LIGHT, SHAPES_ON, TEXT_ON, style


def luminance(colour: str) -> float:
    parts = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_measure_itself():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # published example just below AA


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_words_and_shapes_can_be_told_from_what_is_behind_them(palette: Mapping[str, str]):
    for front, back in TEXT_ON:
        assert contrast(palette[front], palette[back]) >= 4.5, (front, back)
    for front, back in SHAPES_ON:
        assert contrast(palette[front], palette[back]) >= 3.0, (front, back)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("behind", ["paper", "band"])
def test_the_line_of_the_middle_can_be_told_from_its_bar(palette: Mapping[str, str], behind: str):
    channels = [
        round(BAR * int(palette["deep"][at : at + 2], 16) + (1 - BAR) * int(palette[behind][at : at + 2], 16))
        for at in (1, 3, 5)
    ]
    bar = "#" + "".join(f"{channel:02x}" for channel in channels)
    assert contrast(palette["clay"], bar) >= 3.0


def test_every_colour_that_is_used_is_in_both_palettes():
    assert set(LIGHT) == set(DARK)
    used = {part.split(")")[0] for part in style().split("var(--")[1:]}
    assert used <= {*LIGHT, "bar"}
