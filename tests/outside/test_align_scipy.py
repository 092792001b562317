"""Robust line and spread against scipy's, which has both from the literature."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from firmware.hearing.alignment import line_through, spread_of


@pytest.mark.parametrize("seed", range(5))
def test_the_line_is_that_of_theil_and_sen(seed: int):
    """Outside source: scipy.stats.theilslopes (Theil 1950, Sen 1968)."""
    generator = np.random.default_rng(seed)
    x = np.sort(generator.uniform(0, 60, 80))
    y = 0.018 * x + generator.standard_t(2, 80) * 0.02
    slope, base = line_through(x, y)
    theirs = stats.theilslopes(y, x, method="joint")
    assert slope == pytest.approx(theirs.slope, abs=1e-12)
    assert base == pytest.approx(theirs.intercept, abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_the_spread_is_the_scaled_median_deviation(seed: int):
    """Outside source: scipy.stats.median_abs_deviation with the scale of the normal distribution."""
    values = np.random.default_rng(seed).normal(3, 11, 101)
    assert spread_of(values).spread_ms == pytest.approx(stats.median_abs_deviation(values, scale="normal"), rel=1e-4)
