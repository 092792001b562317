"""The table of just ratios."""

from __future__ import annotations

import pytest

from firmware.music.intervals import Interval
from firmware.music.ratios import NAMED, ratio, source_of


def test_ratios_rise_within_one_octave() -> None:
    sizes = [ratio(text).cents for text in NAMED]
    assert sizes == sorted(sizes)
    assert len(set(NAMED.values())) == len(NAMED)
    assert all(0 <= cents < 1200 for cents in sizes)


def test_a_source_names_the_interval_and_the_table() -> None:
    assert source_of("5/4") == "just major third 5:4 (Helmholtz tr. Ellis, app. XX sect. D)"
    assert ratio("5/4") == Interval.of("5/4")


def test_a_ratio_outside_the_table_is_a_mistake_of_ours() -> None:
    with pytest.raises(KeyError, match="17/16"):
        ratio("17/16")
