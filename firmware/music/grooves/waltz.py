"""Waltz: low on 1, light on 2 and 3 (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

WALTZ = groove_of(
    name="waltz",
    title="waltz",
    meter="3/4",
    steps=1,
    lines=(
        ("bass", "X.."),
        ("snare", ".xx"),
        ("cymbal", "ooo"),
    ),
)
