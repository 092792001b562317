"""Young's second temperament: six fifths, C to F♯, narrowed by a sixth of the Pythagorean comma, the rest pure."""

from __future__ import annotations

from fractions import Fraction

from firmware.music.tuning import FIFTH, PYTHAGOREAN_COMMA, Tuning, circle, on_c

_NARROW = FIFTH / PYTHAGOREAN_COMMA ** Fraction(1, 6)

YOUNG = Tuning(
    name="young",
    title="Young",
    source="Thomas Young, Philosophical Transactions of the Royal Society 90, 1800 (his second temperament, 1799)",
    fixed=True,
    rule=on_c(circle([*[_NARROW] * 6, *[FIFTH] * 6])),
)
