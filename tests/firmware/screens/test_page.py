"""The measures that pages share."""

from __future__ import annotations

from firmware.screens.fonts import SMALL
from firmware.screens.frame import HEIGHT, WIDTH
from firmware.screens.header import RULE
from firmware.screens.page import BOTTOM, LEFT, PITCH, RIGHT, TOP, row


def test_lines_of_text_lie_inside_the_screen_and_under_the_header() -> None:
    assert row(BOTTOM).bottom <= HEIGHT
    assert BOTTOM + SMALL.height <= HEIGHT
    assert TOP > RULE + 1
    assert SMALL.height <= PITCH


def test_margins_are_even() -> None:
    assert LEFT == WIDTH - RIGHT
    assert row(20).x == LEFT
    assert row(20).right == RIGHT
    assert row(20, 60, 100).width == 40
