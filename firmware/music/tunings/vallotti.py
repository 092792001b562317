"""Vallotti: the six fifths from F to B narrowed by a sixth of the Pythagorean comma, the rest pure."""

from __future__ import annotations

from fractions import Fraction

from firmware.music.tuning import FIFTH, PYTHAGOREAN_COMMA, Tuning, circle, on_c

_NARROW = FIFTH / PYTHAGOREAN_COMMA ** Fraction(1, 6)

VALLOTTI = Tuning(
    name="vallotti",
    title="Vallotti",
    source="Vallotti, Della scienza teorica e pratica della moderna musica, 1779",
    fixed=True,
    rule=on_c(circle([*[_NARROW] * 5, *[FIFTH] * 6, _NARROW])),
)
