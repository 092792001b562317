"""Exact intervals: their ends, their order, and that they say nothing where nothing can be said."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware.sheet.chances import at_least, guessed, middle_interval, share_interval


def test_guessing_is_a_coin():
    assert guessed(0, 12) == pytest.approx(1.0)
    assert guessed(12, 12) == pytest.approx(1 / 4096)
    assert guessed(10, 12) == pytest.approx((66 + 12 + 1) / 4096)  # by Pascal's triangle


@given(st.integers(1, 40), st.data())
def test_an_interval_holds_the_share_and_narrows_with_the_level(count: int, data: st.DataObject):
    right = data.draw(st.integers(0, count))
    low, high = share_interval(right, count)
    narrow_low, narrow_high = share_interval(right, count, 0.5)
    assert 0.0 <= low <= narrow_low <= right / count <= narrow_high <= high <= 1.0
    if 0 < right < count:
        assert at_least(right, count, low) == pytest.approx(0.025, abs=1e-9)
        assert 1 - at_least(right + 1, count, high) == pytest.approx(0.025, abs=1e-9)


def test_none_and_all_right_reach_the_ends():
    assert share_interval(0, 12)[0] == 0.0
    assert share_interval(12, 12)[1] == 1.0


def test_six_values_are_the_fewest_for_a_middle():
    assert middle_interval([]) is None
    assert middle_interval([1.0, 2.0, 3.0, 4.0, 5.0]) is None
    assert middle_interval([6.0, 1.0, 5.0, 2.0, 4.0, 3.0]) == (1.0, 6.0)
    assert middle_interval(range(9)) == (1, 7)
    assert middle_interval([1.0, 2.0, 3.0, 4.0, 5.0], 0.9) == (1.0, 5.0)
