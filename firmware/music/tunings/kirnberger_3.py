"""Kirnberger III: four quarter-comma fifths from C to E, the schisma between F♯ and C♯, the rest pure."""

from __future__ import annotations

from fractions import Fraction

from firmware.music.intervals import Interval
from firmware.music.tuning import FIFTH, Tuning, circle, on_c

_QUARTER = Interval.of(5) ** Fraction(1, 4)
_SCHISMA = Interval.of("32805/32768")

KIRNBERGER_3 = Tuning(
    name="kirnberger-3",
    title="Kirnberger III",
    source="Kirnberger, letter to Forkel, about 1779",
    fixed=True,
    rule=on_c(circle([*[_QUARTER] * 4, *[FIFTH] * 2, FIFTH / _SCHISMA, *[FIFTH] * 5])),
)
