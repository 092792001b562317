"""Cha-cha: a bell on each beat, the close of the bar in eighths (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

CHA_CHA = groove_of(
    name="cha-cha",
    title="cha-cha",
    meter="4/4",
    steps=2,
    lines=(
        ("wood", "X. x. X. x."),
        ("shaker", "xo xo xo xo"),
        ("bass", ".. .. .. Xx"),
    ),
)
