"""The legend under the picture, made from the keymap."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from firmware.events import PanelKey
from firmware.screens.gestures import Control, Kind
from firmware.screens.meanings import GESTURES
from hardware.desk_app.keymap import AMOUNT_SHOWN, HELP_SHOWN, QUIT_SHOWN, STROKES

NAMES_WIDTH: Final = 8
COLUMN_WIDTH: Final = 11


def _shown(control: Control, *kinds: Kind) -> str:
    return " ".join(stroke.shown for stroke in STROKES if stroke.control is control and stroke.kind in kinds)


def _row(name: str, entries: Iterable[str]) -> str:
    return f"{name:<{NAMES_WIDTH}}" + "".join(f"{entry:<{COLUMN_WIDTH}}" for entry in entries).rstrip()


def _key_rows() -> Iterable[str]:
    controls = [Control(key.value) for key in PanelKey]
    yield _row("", controls)
    yield _row("tap", (_shown(control, Kind.TAP) for control in controls))
    held = (_shown(control, Kind.HOLD) or f"{_shown(control, Kind.DOWN)} down/up" for control in controls)
    yield _row("hold", held)
    letters = (_shown(control, Kind.TAP, Kind.DOWN) for control in controls)
    yield _row("amount", (f"{AMOUNT_SHOWN} {letter} ← →" for letter in letters))


def legend() -> tuple[str, ...]:
    """Lines of the legend, at most 80 characters each."""
    turn = _shown(Control.KNOB, Kind.TURN)
    push = _shown(Control.KNOB, Kind.PUSH)
    page = _shown(Control.KNOB, Kind.PUSH_TURN)
    right, left = (_shown(control, Kind.PRESS) for control in (Control.RIGHT_PEDAL, Control.LEFT_PEDAL))
    knob = f"{turn} turn   {push} push   {page} push and turn"
    return (
        *_key_rows(),
        f"{'knob':<{NAMES_WIDTH}}{knob}",
        f"{'pedals':<{NAMES_WIDTH}}{right} right   {left} left      {HELP_SHOWN} what they do   {QUIT_SHOWN} end",
    )


def words() -> tuple[str, ...]:
    """What every stroke does, in the words of the panel's own table, at most 80 characters a line."""
    rows = []
    for meaning in GESTURES:
        shown = _shown(meaning.control, meaning.kind)
        if meaning.kind is Kind.AMOUNT:
            shown = f"{AMOUNT_SHOWN} {_shown(meaning.control, Kind.TAP, Kind.DOWN)} ← →"
        if meaning.kind is Kind.UP:
            shown = f"{_shown(meaning.control, Kind.DOWN)} again"
        if shown:
            rows.append(f"{shown:<13}{meaning.control}: {meaning.words}")
    return (*rows, f"{QUIT_SHOWN:<13}ends the rehearsal and writes the sheet")
