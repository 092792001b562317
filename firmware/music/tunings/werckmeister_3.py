"""Werckmeister III: C-G, G-D, D-A and B-F♯ narrowed by a quarter of the Pythagorean comma, the rest pure."""

from __future__ import annotations

from fractions import Fraction

from firmware.music.tuning import FIFTH, PYTHAGOREAN_COMMA, Tuning, circle, on_c

_NARROW = FIFTH / PYTHAGOREAN_COMMA ** Fraction(1, 4)

WERCKMEISTER_3 = Tuning(
    name="werckmeister-3",
    title="Werckmeister III",
    source="Werckmeister, Musicalische Temperatur, 1691, no. III of the circular temperaments",
    fixed=True,
    rule=on_c(circle([*[_NARROW] * 3, *[FIFTH] * 2, _NARROW, *[FIFTH] * 6])),
)
