"""Straight eighths in four: backbeat on 2 and 4 (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

STRAIGHT_EIGHTHS = groove_of(
    name="straight-eighths",
    title="straight eighths",
    meter="4/4",
    steps=2,
    lines=(
        ("cymbal", "Xo xo Xo xo"),
        ("snare", ".. X. .. X."),
        ("bass", "X. .. X. .."),
    ),
)
