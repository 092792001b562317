"""Quarter-comma meantone: fifths narrowed until four of them make a pure major third."""

from __future__ import annotations

from fractions import Fraction

from firmware.music.intervals import Interval
from firmware.music.tuning import Tuning, by_fifths

MEANTONE = Tuning(
    name="meantone",
    title="meantone",
    source="Pietro Aaron 1523, quarter of a syntonic comma: fifth = fourth root of 5",
    fixed=False,
    rule=by_fifths(Interval.of(5) ** Fraction(1, 4)),
)
