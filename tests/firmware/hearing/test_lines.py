"""Lines of own sound, found and fitted."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from firmware.hearing.line_bank import LineBank
from firmware.hearing.lines import SPANS, find_lines
from firmware.hearing.transients import CAUTION, Transients

RATE = 12_000


def steady(frequencies: list[float], count: int, seed: int = 1) -> np.ndarray:
    """Equal cosines with the rounding of 32-bit floats, as the engine's output has it."""
    rng = np.random.default_rng(seed)
    time = np.arange(count) / RATE
    sound = sum(0.05 * np.cos(2 * np.pi * hz * time + rng.uniform(0, 6.28)) for hz in frequencies)
    return np.asarray(sound, np.float32).astype(np.float64)


@pytest.mark.parametrize("span", SPANS)
def test_lines_are_found_to_a_ten_thousandth_of_a_hertz(span: int):
    wanted = [58.27 * k for k in range(1, 60)]
    found = find_lines(steady(wanted, span), RATE)
    assert found is not None
    assert len(found) == len(wanted)
    assert np.abs(found - wanted).max() < 1e-4


def test_a_tempered_fifth_is_two_lines():
    # third partial of B♭2 and second of an equal fifth over it: 2 cents apart, 0.39 Hz
    wanted = [3 * 116.54, 2 * 116.54 * 2 ** (7 / 12), 700.0]
    found = find_lines(steady(wanted, SPANS[0]), RATE)
    assert found is not None
    assert np.abs(np.sort(found) - np.sort(wanted)).max() < 1e-3


def test_what_is_not_steady_has_no_lines():
    rng = np.random.default_rng(2)
    count = SPANS[0]
    assert find_lines(rng.standard_normal(count), RATE) is None
    glide = np.cos(2 * np.pi * np.cumsum(np.linspace(200, 210, count)) / RATE)
    assert find_lines(glide, RATE) is None
    begun = steady([200.0, 300.0], count)
    begun[: count // 2] = 0
    assert find_lines(begun, RATE) is None
    assert find_lines(np.zeros(count), RATE) is None


def test_a_fit_over_hops_predicts_the_sound():
    wanted = [116.54, 233.08, 349.62, 3 * 116.53]
    sound = steady(wanted, 40 * 480)
    bank = LineBank(2 * np.pi * np.array(wanted) / RATE, 480)
    hops = np.arange(30)
    projections = np.array([bank.project(sound[hop * 480 : hop * 480 + 480]) for hop in hops])
    phasors = bank.fit(projections, hops, np.hanning(32)[1:-1])
    assert np.abs(np.abs(phasors[:2]) - 0.05).max() < 1e-5
    for hop in (0, 15, 39):
        part = sound[hop * 480 : hop * 480 + 480]
        assert np.abs(part - bank.predict(phasors, hop)).max() < 1e-4 * np.abs(sound).max()


def test_a_click_is_bounded_until_it_has_rung_out():
    bound = Transients(0.04)
    bound.add(1.0)
    levels = []
    for _ in range(60):
        levels.append(bound.power(0.25))
        bound.add(0.0)
    assert levels[:4] == pytest.approx([CAUTION * 0.25] * 4)
    assert all(later <= before for before, later in pairwise(levels))
    assert levels[44] == pytest.approx(CAUTION * 0.25 * 10 ** (-6 * 1.6 / 1.5), rel=0.1)  # 1.6 s after it was late
