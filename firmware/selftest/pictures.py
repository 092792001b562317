"""What the OLED shows during the self-test: what is asked, the test pictures, and what was found."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from firmware.screens.fonts import SMALL
from firmware.screens.frame import HEIGHT, WIDTH, Frame
from firmware.screens.raster import DARK, Box, Canvas
from firmware.screens.strip import lines_of
from firmware.selftest.ask import Ask, Do
from firmware.selftest.finding import Finding

ALL_LIT: Final = Frame(b"\xff" * (WIDTH * HEIGHT // 8))

LEFT: Final = 3
ROOM: Final = WIDTH - 2 * LEFT
FIRST: Final = 16
PITCH: Final = 9
HALF_SECONDS: Final = 2.0
"""While dots are judged, all of them and the question take turns."""

ARROW_X: Final = 10


@lru_cache(maxsize=64)
def picture(ask: Ask, *, lit: bool = False) -> Frame:
    """What is shown while something is asked; `lit` chooses the other one of two pictures that take turns."""
    if ask.do is Do.LOOK_ALL_LIT and lit:
        return ALL_LIT
    return paint(ask).done()


def lit_turn(seconds: float) -> bool:
    """Which of two pictures is due, so many seconds after the question."""
    return int(seconds / HALF_SECONDS) % 2 == 1


def paint(ask: Ask) -> Canvas:
    """Paint what is asked; the canvas also knows which texts did not fit."""
    canvas = Canvas()
    left = LEFT
    if ask.do is Do.LOOK:
        canvas.frame(Box(0, 0, WIDTH, HEIGHT))
        _arrow(canvas)
        left = 2 * ARROW_X
    top = 4
    for line in lines_of(ask.text):
        canvas.text(left, top, line, SMALL, WIDTH - left - LEFT)
        top += PITCH
    if ask.choices:
        canvas.text(left, top, _how(ask), SMALL, WIDTH - left - LEFT)
        top += PITCH + 1
    for number, choice in enumerate(ask.choices, start=1):
        canvas.text(left, top, f"{number} {choice}", SMALL, WIDTH - left - LEFT)
        top += PITCH
    return canvas


def _how(ask: Ask) -> str:
    key = ask.key.removeprefix("key ")
    return f"press {key} so often:" if key else "no key works to answer"


def _arrow(canvas: Canvas) -> None:
    """An arrow that points up."""
    top, bottom = 10, HEIGHT - 10
    canvas.down(ARROW_X, top, bottom)
    canvas.trace([(ARROW_X - 5, top + 6), (ARROW_X, top), (ARROW_X + 5, top + 6)])


def paint_finding(finding: Finding, number: int, count: int) -> Canvas:
    """Paint one of some findings."""
    canvas = Canvas()
    canvas.fill(Box(0, 0, WIDTH, 12))
    canvas.text(LEFT, 2, f"Fault {number} of {count}", SMALL, ROOM, ink=DARK)
    for row, line in enumerate(lines_of(finding.line)):
        canvas.text(LEFT, FIRST + row * (PITCH + 2), line, SMALL, ROOM)
    canvas.text(LEFT, HEIGHT - 10, "more in report.txt", SMALL, ROOM)
    return canvas


def verdict(findings: tuple[Finding, ...], turn: int = 0) -> Frame:
    """What is shown at the end: each fault in its turn, or that there is none."""
    if findings:
        number = turn % len(findings)
        return paint_finding(findings[number], number + 1, len(findings)).done()
    canvas = Canvas()
    canvas.text(LEFT, FIRST, "Nothing is wrong", SMALL, ROOM)
    canvas.text(LEFT, FIRST + PITCH + 2, "Keelnote is ready", SMALL, ROOM)
    return canvas.done()
