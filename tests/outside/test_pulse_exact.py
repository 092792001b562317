"""Beat times of random programs against another computation, in exact fractions and in decimals of 60 digits.

The other computation knows only the rules of the trade: a beat at tempo T lasts 60/T s; a ramp that is linear per beat
takes 60 L ln(v1/v0) / (v1 - v0) s, one that is linear per time 120 L / (v0 + v1) s. It walks through the piece beat by
beat, in Python's fractions, and takes logarithms and roots from Python's decimal module (IBM's General Decimal
Arithmetic), not from floating point. The ramps are also integrated numerically by scipy.
"""

from __future__ import annotations

import random
from decimal import Decimal, getcontext
from fractions import Fraction

import pytest
from scipy.integrate import quad

from firmware.music.meter import Bars, Meter, parse_meter
from firmware.music.program import Program
from firmware.music.tempo import Curve, Law, Move, Pause, Stretch, seconds_in, speed_in

getcontext().prec = 60
RATE = 48_000
HOUR = 3600
METERS = ("4/4", "3/4", "2/2", "6/8", "9/8", "5/4", "2+2+3/8", "3+2/4", "3+3+2/8", "7/16", "1/4", "12/8")


def tenths(rng: random.Random) -> Fraction:
    return Fraction(rng.randint(200, 3000), 10)


def random_program(rng: random.Random) -> Program:
    """Meters that change, tempos to a tenth, ramps of both laws, holds; an hour and more."""
    runs: tuple[tuple[int, Meter], ...] = tuple(
        (rng.randint(1, 9), parse_meter(rng.choice(METERS))) for _ in range(rng.randint(1, 6))
    )
    moves: list[Move] = []
    tempo = tenths(rng)
    for _ in range(rng.randint(0, 40)):
        length = Fraction(rng.randint(1, 400), rng.choice((1, 2, 3, 4, 8, 12)))
        kind = rng.random()
        if kind < 0.15:
            moves.append(Pause(rng.randint(0, 40) / 8))
        elif kind < 0.5:
            moves.append(Stretch(length, float(tempo) / 4, float(tempo) / 4))
        else:
            end = tempo + Fraction(1, 10) if rng.random() < 0.1 else tenths(rng)
            moves.append(Stretch(length, float(tempo) / 4, float(end) / 4, rng.choice(list(Law))))
            tempo = end
        if rng.random() < 0.3:
            tempo = tenths(rng)
    curve = Curve(float(tempo) / 4, tuple(moves))
    return Program(Bars(runs, repeat=rng.random() < 0.7), curve, count_in=rng.randint(0, 2))


def decimal(value: Fraction | float) -> Decimal:
    exact = Fraction(value)
    return Decimal(exact.numerator) / Decimal(exact.denominator)


def exact_time(moves: tuple[Move, ...], first: float, position: Fraction) -> Decimal:
    """Seconds from bar 1 to a position, by walking along the moves; what is left after them is steady."""
    if position < 0:
        return 60 * decimal(position) / decimal(first)
    time, left, last = Decimal(0), position, first
    for move in moves:
        if isinstance(move, Pause):
            time += decimal(move.seconds) if left > 0 else 0
            continue
        way = min(left, move.length)
        v0, v1, x, whole = (decimal(value) for value in (move.start, move.end, way, move.length))
        if v0 == v1:
            time += 60 * x / v0
        elif move.law is Law.BEAT:
            v = v0 + (v1 - v0) * x / whole
            time += 60 * whole / (v1 - v0) * (v / v0).ln()
        else:
            v = (v0 * v0 + (v1 * v1 - v0 * v0) * x / whole).sqrt()
            time += 120 * x / (v0 + v)
        left -= way
        last = move.end
        if left == 0:
            return time
    return time + 60 * decimal(left) / decimal(last)


def beat_positions(program: Program, until: Fraction) -> list[Fraction]:
    """Where every beat stands, bar by bar from the list of runs."""
    meters = [meter for count, meter in program.bars.runs for _ in range(count)]
    places, bar = [], 0
    start = -program.count_in * meters[0].length
    for _ in range(program.count_in):
        places += [start + n * meters[0].beat for n in range(meters[0].beats)]
        start += meters[0].length
    while start < until:
        meter = meters[bar % len(meters)] if program.bars.repeat else meters[min(bar, len(meters) - 1)]
        places += [start + n * meter.beat for n in range(meter.beats)]
        start += meter.length
        bar += 1
    return places


def worst_error(seed: int, looked_at: int) -> Fraction:
    """Largest distance, in samples, of a beat's sample from its exact time; the last beats of the hour among them."""
    rng = random.Random(seed)  # noqa: S311 - a seed that gives the same programs every time, no secret
    program = random_program(rng)
    until = Fraction(program.position(HOUR)) + 2
    places = beat_positions(program, until)
    beats = []
    for beat in program.all_beats():
        if beat.position >= until or len(beats) == len(places):
            break
        beats.append(beat)
    assert [beat.position for beat in beats] == places[: len(beats)]
    assert len(places) - len(beats) < 64
    begin = exact_time(program.curve.moves, program.curve.speed, program.start)
    worst = Fraction(0)
    for beat in [*rng.sample(beats, min(looked_at, len(beats))), *beats[-5:]]:
        exact = exact_time(program.curve.moves, program.curve.speed, beat.position) - begin
        worst = max(worst, abs(round(beat.time * RATE) - Fraction(exact) * RATE))
    return worst


@pytest.mark.parametrize("seed", range(0, 16, 4))
def test_no_beat_of_an_hour_is_off_by_a_sample(seed: int) -> None:
    assert max(worst_error(one, 30) for one in range(seed, seed + 4)) <= Fraction(50001, 100000)


@pytest.mark.long
@pytest.mark.timeout(900)
def test_no_beat_of_five_hundred_hours_is_off_by_a_sample() -> None:
    assert max(worst_error(seed, 100) for seed in range(1000, 1500)) <= Fraction(50001, 100000)


@pytest.mark.parametrize("law", list(Law))
@pytest.mark.parametrize(("start", "end"), [(15.0, 30.0), (30.0, 5.0), (20.0, 20.001), (75.0, 12.0)])
def test_ramps_take_the_time_that_scipy_integrates(law: Law, start: float, end: float) -> None:
    stretch = Stretch(Fraction(7, 2), start, end, law)
    for way in (Fraction(1, 8), Fraction(2), Fraction(7, 2)):
        integral, _ = quad(lambda x: 60.0 / speed_in(stretch, x), 0.0, float(way), epsabs=1e-12, epsrel=1e-13)
        assert seconds_in(stretch, way) == pytest.approx(integral, abs=1e-10)
