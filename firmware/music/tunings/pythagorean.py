"""Pythagorean tuning: pure fifths in a line from the tonic."""

from __future__ import annotations

from firmware.music.tuning import FIFTH, Tuning, by_fifths

PYTHAGOREAN = Tuning(
    name="pythagorean",
    title="Pythagorean",
    source="fifths 3/2; Helmholtz tr. Ellis, app. XX",
    fixed=False,
    rule=by_fifths(FIFTH),
)
