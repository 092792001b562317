"""Early or late, even or not, rushing or dragging: on onsets that are made to be so."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.hearing.alignment import align, drift_percent, figures, line_through, running_median, spread_of
from firmware.music.meter import parse_bars
from firmware.music.program import Program
from firmware.music.tempo import Curve

TEMPO = 92.0
BEAT = 60.0 / TEMPO
COMMON = Program(curve=Curve(TEMPO / 4))
GOING_SILENT = Program(curve=Curve(TEMPO / 4), heard=2, silent=2)


def beats(count: int, step: float = 1.0) -> np.ndarray:
    return np.arange(count) * step * BEAT


def test_each_note_has_its_place_and_is_so_late():
    late = [0.010, -0.020, 0.0, 0.030, -0.005]
    places = [0.0, 1.0, 1.5, 2.0, 5.0]
    times = [place * BEAT + off for place, off in zip(places, late, strict=True)]
    aligned = align(times, COMMON)
    assert [(one.bar, one.beat) for one in aligned] == [(1, 1), (1, 2), (1, Fraction(5, 2)), (1, 3), (2, 2)]
    assert [one.ms for one in aligned] == pytest.approx([1000 * off for off in late])
    assert [one.time for one in aligned] == times


def test_no_onsets_no_figures():
    assert align([], COMMON) == ()
    empty = figures(())
    assert (empty.whole.count, empty.drift_percent, empty.bars, empty.beats, empty.free) == (0, None, (), (), ())


@pytest.mark.parametrize(
    ("steps", "division"), [([1.0], 1), ([0.5], 2), ([1.0, 1 / 3, 1 / 3, 1 / 3], 3), ([0.25, 0.25, 0.5], 4)]
)
def test_the_notes_say_how_the_beat_is_divided(steps: list[float], division: int):
    generator = np.random.default_rng(division)
    places = np.cumsum([0.0, *(steps * 24)])
    aligned = align(list(places * BEAT + generator.normal(0, 0.012, len(places))), COMMON)
    assert max(one.beat.denominator for one in aligned) == division
    assert np.abs([one.ms for one in aligned]).max() < 50


def test_rushing_is_followed_beyond_a_beat():
    """At 1.8 % faster the players are more than a beat ahead after 64 beats, and still on their own beats."""
    generator = np.random.default_rng(2)
    times = np.sort(beats(128, 0.5) / 1.018 + generator.normal(0, 0.01, 128))
    result = figures(align(list(times), COMMON))
    assert result.drift_percent == pytest.approx(1.8, abs=0.1)
    assert result.whole.spread_ms == pytest.approx(10.0, abs=3.0)
    assert result.bars[-1][1].median_ms == pytest.approx(-1000 * 62 * BEAT * (1 - 1 / 1.018), abs=40)


def test_dragging_is_less_than_nothing():
    assert drift_percent(align(list(beats(32) / 0.99), COMMON)) == pytest.approx(-1.0, abs=0.01)


def test_a_late_place_in_the_bar_is_named_even_when_all_rush():
    times = beats(64) / 1.01
    times[2::4] += 0.03
    result = figures(align(list(times), COMMON))
    late = {beat: spread.median_ms - result.whole.median_ms for beat, spread in result.beats}
    assert late[Fraction(3)] == pytest.approx(30.0, abs=5.0)
    assert all(abs(late[Fraction(beat)]) < 12.0 for beat in (1, 2, 4))


def test_additive_bars():
    program = Program(bars=parse_bars("2+2+3/8"), curve=Curve(184 / 8))
    times = np.arange(28) * 60 / 184 - 0.015
    result = figures(align(list(times), program))
    assert [bar for bar, _ in result.bars] == [1, 2, 3, 4]
    assert [beat for beat, _ in result.beats] == [1, 2, 3, 4, 5, 6, 7]
    assert all(spread.median_ms == pytest.approx(-15.0, abs=0.1) for _, spread in result.bars)


def test_tempo_of_the_players_while_the_pulse_is_silent():
    """Bars 3 and 4 of 4 are silent; there the players rush by 3 % and then they come back."""
    steps = np.where((np.arange(64) % 16) >= 8, 1 / 1.03, 1.0)
    times = np.cumsum([0.0, *steps[:15], 1.0 - 8 * (1 / 1.03 - 1.0)]) * BEAT
    found = figures(align(list(times), GOING_SILENT)).free
    assert [(one.first_bar, one.last_bar) for one in found] == [(3, 4)]
    assert found[0].percent == pytest.approx(3.0, abs=0.2)
    assert found[0].end_ms == pytest.approx(-1000 * 6 * BEAT * (1 - 1 / 1.03), abs=20)


def test_wild_onsets_do_not_move_the_line():
    x = np.arange(40.0)
    y = 0.5 * x + 2.0
    y[::5] += 100.0
    slope, base = line_through(x, y)
    assert slope == pytest.approx(0.5, abs=0.02)
    assert base == pytest.approx(2.0, abs=0.6)


def test_spread_counts_like_a_standard_deviation():
    values = np.random.default_rng(4).normal(3.0, 2.0, 4000)
    spread = spread_of(values)
    assert (spread.median_ms, spread.spread_ms) == pytest.approx((3.0, 2.0), abs=0.12)
    assert spread_of([]).count == 0


def test_running_median():
    assert running_median(np.array([1.0, 9.0, 2.0, 3.0]), 1).tolist() == [1.0, 2.0, 3.0, 3.0]


def test_many_onsets_are_dealt_with_quickly_and_well():
    assert drift_percent(align(list(beats(3000, 0.5) / 1.005), COMMON, 2)) == pytest.approx(0.5, abs=0.01)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.0, 60.0), max_size=40))
def test_any_onsets_give_figures(times: list[float]):
    aligned = align(sorted(times), COMMON)
    result = figures(aligned)
    assert len(aligned) == len(times) == result.whole.count
    assert all(np.isfinite(one.ms) and 1 <= one.beat < 5 for one in aligned)
    assert result.drift_percent is None or np.isfinite(result.drift_percent)
