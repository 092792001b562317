"""The time of a pulse in the log, exact: bars and tempos, so that players can be aligned with it again later."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Final, cast

from firmware.errors import KeelnoteError
from firmware.music.meter import Bars, Meter
from firmware.music.program import Program
from firmware.music.tempo import Curve, Law, Move, Pause, Stretch

MOST: Final = 64
"""Moves and runs of bars that are told; a whole piece from a MIDI file would fill the log."""


def time_record(program: Program) -> dict[str, object] | None:
    """What decides when beats fall, for JSON; None for one that is too long. Sounds and accents are left out."""
    if len(program.curve.moves) > MOST or len(program.bars.runs) > MOST:
        return None
    return {
        "unit": str(program.unit),
        "bars": [[count, list(meter.groups), str(meter.beat)] for count, meter in program.bars.runs],
        "again": program.bars.repeat,
        "intro": program.bars.intro,
        "speed": repr(program.curve.speed),
        "moves": [_told(move) for move in program.curve.moves],
        "count_in": program.count_in,
        "pickup": str(program.pickup),
        "length": program.length,
    }


def program_of_record(told: object) -> Program | None:
    """Read the program of such a record; None if it is none."""
    if not isinstance(told, dict):
        return None
    try:
        runs = tuple((int(count), Meter(tuple(groups), Fraction(beat))) for count, groups, beat in told["bars"])
        moves = tuple(_move(one) for one in told["moves"])
        speed = _positive(told["speed"])
        if not runs or min(count for count, _ in runs) < 1 or min(meter.length for _, meter in runs) <= 0:
            return None
        return Program(
            bars=Bars(runs, repeat=bool(told["again"]), intro=int(told["intro"])),
            curve=Curve(speed, moves),
            unit=Fraction(told["unit"]),
            count_in=int(told["count_in"]),
            pickup=Fraction(told["pickup"]),
            length=None if told["length"] is None else int(told["length"]),
        )
    except (KeyError, TypeError, ValueError, ZeroDivisionError, OverflowError, KeelnoteError):
        return None


def _told(move: Move) -> list[object]:
    if isinstance(move, Pause):
        return [repr(move.seconds), move.cut]
    # As texts, because the log rounds its figures.
    return [str(move.length), repr(move.start), repr(move.end), move.law.value]


def _move(told: object) -> Move:
    parts = cast("list[str | float]", told)
    if len(parts) == 2:
        return Pause(float(parts[0]), bool(parts[1]))
    length, start, end, law = parts
    if Fraction(length) < 0:
        raise ValueError(told)
    return Stretch(Fraction(length), _positive(start), _positive(end), Law(str(law)))


def _positive(told: object) -> float:
    """A speed that time can pass at."""
    value = float(cast("str", told))
    if not 0.0 < value < math.inf:
        raise ValueError(told)
    return value
