"""The time of a pulse goes into the log and comes back with every beat where it was."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.music.meter import parse_bars
from firmware.music.moves import parse_moves
from firmware.music.program import Program
from firmware.music.tempo import Curve
from firmware.sheet.pulse_record import MOST, program_of_record, time_record

METERS = ("4/4", "6/8", "2+2+3/8", "4/4x3 3/4", "5/4")
MOVES = (
    "",
    "2 bars, 92->60.5 over 8 beats",
    "120->60 over 10 s by time, hold 2 beats",
    "4 beats, cut 1.5 s, tempo 97.3",
)


def program(meter: str, moves: str, tempo: float, count_in: int) -> Program:
    bars = parse_bars(meter)
    unit = bars.runs[0][1].beat
    return Program(
        bars=bars,
        unit=unit,
        curve=Curve(tempo * float(unit), parse_moves(moves, bars, unit, tempo) if moves else ()),
        count_in=count_in,
        pickup=unit,
    )


@given(st.sampled_from(METERS), st.sampled_from(MOVES), st.floats(20.0, 300.0), st.integers(0, 2))
def test_every_beat_comes_back_exactly(meter: str, moves: str, tempo: float, count_in: int) -> None:
    before = program(meter, moves, tempo, count_in)
    after = program_of_record(json.loads(json.dumps(time_record(before))))
    assert after is not None
    for bar in range(before.first_bar, 24):
        assert [(b.bar, b.beat, b.time) for b in after.beats(bar)] == [
            (b.bar, b.beat, b.time) for b in before.beats(bar)
        ]
    assert (after.unit, after.length) == (before.unit, before.length)


def test_a_whole_piece_is_too_long_for_a_line() -> None:
    moves = ", ".join(["1 beats"] * MOST)
    assert time_record(program("4/4", moves, 90.0, 0)) is not None
    longer = Program(curve=Curve(23.0, program("4/4", moves, 90.0, 0).curve.moves * 2))
    assert time_record(longer) is None


GOOD = time_record(program("4/4", MOVES[1], 92.0, 1)) or {}


@pytest.mark.parametrize(
    "told",
    [
        None,
        [],
        {},
        GOOD | {"speed": "0"},
        GOOD | {"speed": "nan"},
        GOOD | {"speed": None},
        GOOD | {"bars": []},
        GOOD | {"bars": [[0, [4], "1/4"]]},
        GOOD | {"bars": [[1, [0], "1/4"]]},
        GOOD | {"bars": [[1, [4], "1/0"]]},
        GOOD | {"moves": [["-1/4", "20", "20", "beat"]]},
        GOOD | {"moves": [["1/4", "20", "20", "sideways"]]},
        GOOD | {"moves": [["1/4", "20", "-20", "beat"]]},
        GOOD | {"moves": ["x"]},
        GOOD | {"unit": "quarter"},
    ],
)
def test_a_damaged_record_is_none(told: object) -> None:
    assert program_of_record(told) is None


def test_an_end_is_kept() -> None:
    after = program_of_record(time_record(Program(length=7)))
    assert after is not None
    assert after.length == 7
    assert after.pickup == Fraction(0)
