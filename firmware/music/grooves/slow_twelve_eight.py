"""Slow four in 12/8: three soft notes to the beat, backbeat on 2 and 4 (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

SLOW_TWELVE_EIGHT = groove_of(
    name="slow-12-8",
    title="slow 12/8",
    meter="12/8",
    steps=3,
    lines=(
        ("cymbal", "Xoo xoo xoo xoo"),
        ("snare", "... X.. ... X.."),
        ("bass", "X.. ... X.x ..."),
    ),
)
