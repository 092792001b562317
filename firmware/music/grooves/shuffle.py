"""Shuffle: every pair of eighths long and short, backbeat on 2 and 4 (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

SHUFFLE = groove_of(
    name="shuffle",
    title="shuffle",
    meter="4/4",
    steps=2,
    lines=(
        ("cymbal", "Xx Xx Xx Xx"),
        ("snare", ".. X. .. X."),
        ("bass", "X. .. X. .x"),
    ),
    swung="eighths",
)
