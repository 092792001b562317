"""Pulse programs: which beats and strokes, where, when, how loud."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import pytest

from firmware.music.groove import Groove
from firmware.music.grooves import groove_named
from firmware.music.meter import Bars, parse_bars
from firmware.music.moves import parse_moves
from firmware.music.program import ACCENTS, CROSSINGS, Program
from firmware.music.tempo import Curve, Pause, Stretch

F = Fraction
SIXTY = Curve(15.0)
"""60 quarters a minute: a quarter lasts a second."""


def heard(program: Program, *bars: int) -> list[tuple[float, str]]:
    return [(round(hit.time, 9), hit.sound) for bar in bars for hit in program.hits(bar)]


def test_additive_meters_stress_their_groups() -> None:
    program = Program(parse_bars("2+2+3/8"), Curve(60 / 8), F(1, 8), length=1)
    assert [(beat.time, beat.bar, beat.beat, beat.weight) for beat in program.all_beats()] == [
        (float(at), 1, at + 1, weight) for at, weight in enumerate((1.0, 0.5, 0.75, 0.5, 0.75, 0.5, 0.5))
    ]
    assert [sound for _, sound in heard(program, 1)] == ["high", "low", "high", "low", "high", "low", "low"]
    assert program.seconds == 7.0


def test_compound_beats_are_dotted() -> None:
    program = Program(parse_bars("6/8"), Curve(60 * 3 / 8), F(3, 8), subdivision=3, length=2)
    assert [beat.time for beat in program.all_beats()] == [0.0, 1.0, 2.0, 3.0]
    times = [hit.time for hit in program.hits(1)]
    assert times == pytest.approx([0, 1 / 3, 2 / 3, 1, 4 / 3, 5 / 3])


def test_meters_change_from_bar_to_bar() -> None:
    program = Program(parse_bars("4/4 3/4 2+3/8"), SIXTY, length=4)
    firsts = [beat.time for beat in program.all_beats() if beat.beat == 1]
    assert firsts == [0.0, 4.0, 7.0, 9.5]


def test_the_count_in_comes_before_bar_one_and_a_pickup_after_it() -> None:
    plain = Program(parse_bars("3/4"), SIXTY, count_in=2, length=1)
    assert [(beat.bar, beat.beat) for beat in plain.all_beats()] == [
        (bar, beat) for bar in (-1, 0, 1) for beat in (1, 2, 3)
    ]
    assert next(plain.all_beats()).time == 0.0
    upbeat = Program(parse_bars("3/4"), SIXTY, pickup=F(1, 4), length=1)
    assert [(beat.bar, beat.beat, beat.time) for beat in upbeat.all_beats()][:2] == [(0, 3, 0.0), (1, 1, 1.0)]
    both = Program(parse_bars("3/4"), SIXTY, count_in=1, pickup=F(1, 4), length=1)
    assert [beat.bar for beat in both.all_beats()] == [-1] * 3 + [0] * 3 + [1] * 3
    eighth = Program(parse_bars("3/4"), SIXTY, pickup=F(3, 8))
    assert [(beat.bar, beat.beat, beat.time) for beat in eighth.beats(0)] == [(0, 3, 0.5)]
    assert eighth.position(0.0) == -0.375


def test_silent_bars_are_counted_and_not_sounded() -> None:
    program = Program(Bars(), SIXTY, heard=2, silent=1, count_in=1, length=6)
    assert [bool(program.hits(bar)) for bar in range(7)] == [True, True, True, False, True, True, False]
    assert [beat.weight for beat in program.beats(3)] == [0.0] * 4
    assert [beat.time for beat in program.beats(4)] == [16.0, 17.0, 18.0, 19.0]
    assert all(Program(Bars(), SIXTY, heard=2, silent=0).hits(bar) for bar in range(1, 9))


@pytest.mark.parametrize("parts", range(1, 7))
def test_beats_are_divided_evenly(parts: int) -> None:
    program = Program(Bars(), SIXTY, subdivision=parts)
    assert [hit.time for hit in program.hits(1)] == pytest.approx([n / parts for n in range(4 * parts)])


def test_divided_beats_stay_straight_whatever_the_swing_of_grooves() -> None:
    program = Program(Bars(), SIXTY, subdivision=2, swing=F(2))
    assert [hit.time for hit in program.hits(1)][:3] == [0, 0.5, 1]


@pytest.mark.parametrize("name", [name for name in CROSSINGS if name != "off"])
def test_cross_rhythms_meet_where_both_begin(name: str) -> None:
    strokes, beats = (int(part) for part in name.split(":"))
    program = Program(parse_bars("12/4"), SIXTY, cross=CROSSINGS[name])
    voice = [hit.time for hit in program.hits(1) if hit.sound == "wood"]
    assert voice == pytest.approx([n * beats / strokes for n in range(12 * strokes // beats)])


def test_a_cross_rhythm_that_does_not_fit_the_bar_runs_on() -> None:
    program = Program(Bars(), SIXTY, cross=(2, 3))
    voice = [hit.time for bar in range(1, 4) for hit in program.hits(bar) if hit.sound == "wood"]
    assert voice == pytest.approx([n * 1.5 for n in range(8)])


def test_accents_can_be_left_out() -> None:
    weights = {
        accents: [beat.weight for beat in Program(parse_bars("2+2/4"), SIXTY, accents=accents).beats(1)]
        for accents in ACCENTS
    }
    assert weights == {
        "groups": [1.0, 0.5, 0.75, 0.5],
        "bar": [1.0, 0.5, 0.5, 0.5],
        "none": [0.5, 0.5, 0.5, 0.5],
    }


def test_a_groove_takes_the_place_of_the_plain_beats_after_the_count_in() -> None:
    program = Program(parse_bars("3/4"), SIXTY, groove=groove_named("waltz"), count_in=1)
    assert heard(program, 0) == [(0.0, "high"), (1.0, "low"), (2.0, "low")]
    assert set(heard(program, 1)) == {
        (3.0, "bass"), (3.0, "cymbal"), (4.0, "snare"), (4.0, "cymbal"), (5.0, "snare"), (5.0, "cymbal"),
    }  # fmt: skip


def test_a_groove_in_another_meter_plays_what_fits() -> None:
    longer = Program(parse_bars("4/4"), SIXTY, groove=groove_named("waltz"))
    assert heard(longer, 1)[-1] == (3.0, "low")
    shorter = Program(parse_bars("2/4"), SIXTY, groove=groove_named("waltz"))
    assert max(hit.time for hit in shorter.hits(1)) == 1.0
    nothing = Program(Bars(), SIXTY, groove=Groove("x", "x", parse_bars("4/4").runs[0][1], ((),)))
    assert nothing.hits(1) == ()


@pytest.mark.parametrize(("ratio", "second"), [("1", 0.5), ("2", 2 / 3), ("3", 0.75)])
def test_a_swung_groove_takes_its_ratio(ratio: str, second: float) -> None:
    program = Program(Bars(), SIXTY, groove=groove_named("swing"), swing=F(ratio))
    times = [hit.time for hit in program.hits(1) if hit.sound == "cymbal"]
    assert times == pytest.approx([0, 1, 1 + second, 2, 3, 3 + second])


def test_a_hold_and_a_cut_off_are_heard() -> None:
    moves = parse_moves("2 beats, hold 3 s, cut 1 s", Bars(), F(1, 4), 60.0)
    program = Program(Bars(), Curve(15.0, moves), length=1)
    assert heard(program, 1) == [(0.0, "high"), (1.0, "low"), (2.0, "low"), (5.0, "cut"), (7.0, "low")]
    assert program.seconds == 8.0


def test_programs_without_end_go_on() -> None:
    program = Program()
    assert program.seconds == math.inf
    assert program.end is None
    assert program.beats(10**6)[0].time == pytest.approx((10**6 - 1) * 4 * 60 / 92)
    assert len(list(itertools.islice(program.all_beats(), 1000))) == 1000
    assert program.hits(0) == program.beats(0) == ()
    assert Program(length=2).hits(3) == ()


def test_the_bar_at_a_time_is_found() -> None:
    program = Program(parse_bars("4/4 3/4"), Curve(15.0, (Stretch(F(1), 15.0, 30.0), Pause(3.0))), count_in=1)
    for bar in range(40):
        first = program.beats(bar)[0].time
        assert program.bar_at(first + 0.01) == bar
    assert Program(Bars(), SIXTY, pickup=F(1, 4)).bar_at(0.1) == 0


def test_programs_are_equal_only_to_themselves() -> None:
    program = Program()
    assert program == program  # noqa: PLR0124 - that is what is tested
    assert program != Program()
