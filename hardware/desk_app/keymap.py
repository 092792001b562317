"""Which key of the computer is which key of the box: one table, from which the legend is made, too."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from firmware.screens.gestures import Control, Kind


@dataclass(frozen=True, slots=True)
class Stroke:
    """One key of the computer's keyboard.

    Parameters
    ----------
    keys : tuple of str
        Its names in textual; several keys may do the same.
    shown : str
        What the legend calls it.
    control, kind
        What it does to the panel. A terminal tells of no key coming up: so a small letter taps, a capital holds.
    steps : int
        Detents of the knob.
    """

    keys: tuple[str, ...]
    shown: str
    control: Control
    kind: Kind
    steps: int = 0


AMOUNT: Final = "full_stop"
"""Before a small letter: from then on the knob turns as if that key were held down."""
AMOUNT_SHOWN: Final = "."

STROKES: Final = (
    Stroke(("d",), "d", Control.DRONE, Kind.TAP),
    Stroke(("D",), "D", Control.DRONE, Kind.HOLD),
    Stroke(("c",), "c", Control.COMPARE, Kind.DOWN),
    Stroke(("p",), "p", Control.PULSE, Kind.TAP),
    Stroke(("P",), "P", Control.PULSE, Kind.HOLD),
    Stroke(("e",), "e", Control.EAR, Kind.TAP),
    Stroke(("E",), "E", Control.EAR, Kind.HOLD),
    Stroke(("t",), "t", Control.TAKE, Kind.TAP),
    Stroke(("T",), "T", Control.TAKE, Kind.HOLD),
    Stroke(("r",), "r", Control.REPLAY, Kind.TAP),
    Stroke(("R",), "R", Control.REPLAY, Kind.HOLD),
    Stroke(("left",), "←", Control.KNOB, Kind.TURN, -1),
    Stroke(("right",), "→", Control.KNOB, Kind.TURN, +1),
    Stroke(("enter",), "Enter", Control.KNOB, Kind.PUSH),
    Stroke(("pageup", "left_square_bracket"), "PgUp [", Control.KNOB, Kind.PUSH_TURN, -1),
    Stroke(("pagedown", "right_square_bracket"), "PgDn ]", Control.KNOB, Kind.PUSH_TURN, +1),
    Stroke(("space",), "Space", Control.RIGHT_PEDAL, Kind.PRESS),
    Stroke(("b",), "b", Control.LEFT_PEDAL, Kind.PRESS),
)

BY_KEY: Final = {key: stroke for stroke in STROKES for key in stroke.keys}

QUIT_KEY: Final = "ctrl+q"
QUIT_SHOWN: Final = "Ctrl+Q"

HELP_KEY: Final = "question_mark"
HELP_SHOWN: Final = "?"
