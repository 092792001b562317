"""The A weighting against scipy's filters and its own formula, in blocks of any length."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from firmware.hearing.weighting import (
    Recursive,
    a_weighting,
    a_weighting_db,
    a_weighting_sections,
    response,
)
from firmware.units import RATE


def sos(rate: int = RATE) -> np.ndarray:
    return np.array([[b0, b1, b2, 1.0, a1, a2] for b0, b1, b2, a1, a2 in a_weighting_sections(rate)])


def test_the_stream_is_what_scipy_filters() -> None:
    noise = np.random.default_rng(1).standard_normal(20_000)
    expected = signal.sosfilt(sos(), noise)
    weighted, done, filtered = a_weighting(), 0, []
    for size in np.random.default_rng(2).integers(0, 900, 60):
        filtered.append(weighted.process(noise[done : done + size]))
        done += int(size)
    found = np.concatenate(filtered)
    np.testing.assert_allclose(found, expected[: len(found)], atol=1e-11)
    assert len(found) == 20_000


@settings(max_examples=20)
@given(st.lists(st.integers(0, 400), min_size=1, max_size=6))
def test_the_length_of_blocks_does_not_matter(sizes: list[int]) -> None:
    noise = np.random.default_rng(3).standard_normal(sum(sizes))
    whole = a_weighting().process(noise)
    parts, done = a_weighting(), 0
    for size in sizes:
        np.testing.assert_allclose(parts.process(noise[done : done + size]), whole[done : done + size], atol=1e-11)
        done += size


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_the_filter_follows_the_formula(rate: int) -> None:
    hz = np.geomspace(10.0, 20_000.0 if rate > 44_100 else 16_000.0, 400)
    angle = 2 * np.pi * hz / rate
    off = 20 * np.log10(np.abs(response(a_weighting_sections(rate), angle))) - a_weighting_db(hz)
    assert np.abs(off).max() < 0.15
    assert np.abs(off[hz < 12_500]).max() < 0.1
    _, oracle = signal.sosfreqz(sos(rate), angle)
    np.testing.assert_allclose(response(a_weighting_sections(rate), angle), oracle, rtol=1e-7)


def test_the_filter_is_stable_and_of_least_phase() -> None:
    for b0, b1, b2, a1, a2 in a_weighting_sections():
        assert np.abs(np.roots([1.0, a1, a2])).max() < 1.0
        assert np.abs(np.roots([b0, b1, b2])).max() <= 1.0 + 1e-6


def test_any_sections_may_be_run() -> None:
    made = signal.butter(5, [200.0, 2000.0], "bandpass", fs=RATE, output="sos")
    sections = tuple((r[0] / r[3], r[1] / r[3], r[2] / r[3], r[4] / r[3], r[5] / r[3]) for r in made.tolist())
    noise = np.random.default_rng(4).standard_normal(3000)
    np.testing.assert_allclose(Recursive(sections).process(noise), signal.sosfilt(made, noise), atol=1e-11)
