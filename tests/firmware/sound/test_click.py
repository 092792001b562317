"""Strokes on their exact samples, whatever changes on the way."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.music.grooves import groove_named
from firmware.music.meter import parse_bars
from firmware.music.program import Program
from firmware.music.tempo import Curve, Pause, Stretch
from firmware.sound.click import Clicker, sample_of
from firmware.sound.percussion import sound_of
from firmware.sound.snapshot import PulseSound

RATE = 48_000
WEIGHTS = (1.0, 0.5, 0.5, 0.5)


def pulse_of(tempo: float, start: float = 0.0, run: int = 0, meter: str = "4/4") -> PulseSound:
    return PulseSound(on=True, start=start, program=Program(parse_bars(meter), Curve(tempo / 4)), run=run)


def played(clicker: Clicker, pulse: PulseSound, first: int, count: int, block: int = 512) -> np.ndarray:
    parts = []
    for at in range(first, first + count, block):
        size = min(block, first + count - at)
        part = clicker.sound(pulse, 1.0, at, size)
        parts.append(np.zeros(size, np.float32) if part is None else part)
    return np.concatenate(parts)


def sounded(pulse: PulseSound, count: int, block: int = 512, first: int = 0) -> np.ndarray:
    return played(Clicker(RATE), pulse, first, count, block)


def onsets(samples: np.ndarray) -> list[int]:
    """First sample of each stroke, as long as the last has ended before."""
    loud = np.flatnonzero(samples)
    return [int(at) for at in loud[np.diff(loud, prepend=-RATE) > 2000]]


@pytest.mark.parametrize("tempo", [20.0, 92.0, 97.3, 113.7, 300.0])
def test_no_drift_in_an_hour(tempo: float):
    """Every beat within half a sample of its exact time, in fractions."""
    pulse = pulse_of(tempo, 1000)
    for bar in (1, 2, 3, round(tempo * 15)):
        for beat in pulse.program.beats(bar):
            exact = 1000 + Fraction(60 * RATE) * ((beat.bar - 1) * 4 + beat.beat - 1) / Fraction(tempo)
            assert abs(sample_of(pulse, beat.time, RATE) - exact) <= Fraction(500_001, 10**6)


@pytest.mark.parametrize("block", [1, 100, 512, 5000])
def test_each_stroke_begins_on_its_sample_with_beat_one_high(block: int):
    samples = sounded(pulse_of(240.0, 700, meter="3/4"), 50_000, block)
    expected = np.zeros(50_000, np.float32)
    for beat in range(5):
        at = 700 + 12_000 * beat
        click = sound_of("low" if beat % 3 else "high", RATE)[: 50_000 - at] * np.float32(0.5 if beat % 3 else 1)
        expected[at : at + len(click)] += click
    assert np.array_equal(samples, expected)


@pytest.mark.parametrize("block", [64, 512, 4096])
def test_a_groove_with_ramp_and_hold_is_the_sum_of_its_strokes(block: int):
    moves = (Stretch(Fraction(1), 60.0, 30.0), Pause(0.2, cut=True))
    program = Program(curve=Curve(60.0, moves), groove=groove_named("swing"), swing=Fraction(2), length=2)
    expected = np.zeros(4 * RATE, np.float32)
    for bar in (1, 2):
        for hit in program.hits(bar):
            at = round(300.25 + hit.time * RATE)
            sound = sound_of(hit.sound, RATE)[: len(expected) - at]
            expected[at : at + len(sound)] += sound * np.float32(hit.gain)
    samples = sounded(PulseSound(on=True, start=300.25, program=program), 4 * RATE, block)
    assert samples == pytest.approx(expected, abs=1e-6)


def test_the_first_stroke_is_struck_at_once_when_it_has_just_passed_and_the_second_is_exact():
    samples = sounded(pulse_of(240.0, 700), 20_000, first=1800)
    assert np.array_equal(samples[:1440], sound_of("high", RATE))
    assert np.flatnonzero(samples[1440:])[0] + 1440 == 12_700 - 1800


@pytest.mark.parametrize("first", [700 + 2401, 13_000])
def test_any_other_stroke_that_has_passed_is_left_out(first: int):
    samples = sounded(pulse_of(240.0, 700), 30_000, first=first)
    assert np.flatnonzero(samples)[0] == (12_700 if first < 12_700 else 24_700) - first


def test_a_change_on_the_way_doubles_no_stroke():
    clicker = Clicker(RATE)
    clicker.sound(pulse_of(120.0), 1.0, 0, 1500)
    assert clicker.sound(pulse_of(121.0, 1400), 1.0, 1500, 20_000) is None


def test_a_stroke_that_a_change_brings_forward_is_not_lost():
    clicker = Clicker(RATE)
    played(clicker, pulse_of(60.0), 0, 47_500, 500)
    late = played(clicker, pulse_of(61.0, -300), 47_500, 1000, 500)
    assert onsets(late) == [0]


def test_a_new_start_strikes_its_first_beat_though_the_old_one_was_there():
    clicker = Clicker(RATE)
    played(clicker, pulse_of(60.0), 0, 24_000, 500)
    assert onsets(played(clicker, pulse_of(60.0, 24_500, run=1), 24_000, 2000, 500)) == [500]


def test_a_level_that_changes_disturbs_no_stroke():
    clicker = Clicker(RATE)
    program = Program(curve=Curve(60.0))
    parts = [
        clicker.sound(PulseSound(on=True, program=program, level_db=float(-step)), 1.0, step * 512, 512)
        for step in range(200)
    ]
    samples = np.concatenate([np.zeros(512, np.float32) if part is None else part for part in parts])
    assert onsets(samples) == list(range(0, 200 * 512, 12_000))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(200, 9000), st.floats(30, 300)), min_size=1, max_size=12), st.integers(64, 2000))
def test_however_often_the_tempo_changes_every_beat_is_struck_once(changes: list[tuple[int, float]], block: int):
    """The next tempo begins where the last has got to, a little before the engine hears of it."""
    clicker, at, pulse = Clicker(RATE), 0, pulse_of(60.0)
    parts = []
    for gone, tempo in changes:
        parts.append(played(clicker, pulse, at, gone, block))
        at += gone
        heard_at = at - 150
        place = pulse.program.position((heard_at - pulse.start) / RATE)
        pulse = pulse_of(tempo, heard_at - place * 4 * 60 / tempo * RATE)
    parts.append(played(clicker, pulse, at, RATE, block))
    beats = pulse.program.position((at + RATE - pulse.start) / RATE) * 4
    struck = len(onsets(np.concatenate(parts)))
    assert abs(struck - (math.floor(beats + 0.02) + 1)) <= (1 if abs(beats - round(beats)) < 0.05 else 0)


def test_strokes_that_began_ring_out_when_the_pulse_stops():
    clicker = Clicker(RATE)
    clicker.sound(pulse_of(120.0, 500), 1.0, 0, 512)
    tail = clicker.sound(PulseSound(on=False), 1.0, 512, 2000)
    assert np.array_equal(tail[: 1440 - 12], sound_of("high", RATE)[12:])
    assert clicker.sound(PulseSound(on=False), 1.0, 2512, 512) is None


def test_a_pulse_ends_with_its_program():
    program = Program(curve=Curve(60.0), length=2)
    samples = sounded(PulseSound(on=True, program=program), 4 * RATE)
    assert onsets(samples) == [12_000 * beat for beat in range(8)]


def test_silent_bars_are_silent_and_the_next_is_in_time():
    program = Program(curve=Curve(60.0), heard=1, silent=2)
    assert onsets(sounded(PulseSound(on=True, program=program), 4 * RATE))[:5] == [0, 12_000, 24_000, 36_000, 144_000]


@pytest.mark.parametrize("start", [math.nan, math.inf, -math.inf, 1e300])
def test_no_start_breaks_it(start: float):
    assert not sounded(PulseSound(on=True, start=start), 2000).any()


def test_a_start_long_ago_goes_on_where_it_is():
    samples = sounded(pulse_of(60.0, -(10**6) * RATE), 2 * RATE)
    assert onsets(samples) == [0, RATE] or onsets(samples) == [RATE]


def test_very_short_bars_take_no_block_for_ever():
    pulse = PulseSound(on=True, program=Program(parse_bars("1/32"), Curve(1e6)))
    assert np.isfinite(sounded(pulse, 2000)).all()
