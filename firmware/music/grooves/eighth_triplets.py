"""Eighth-note triplets: three even notes to each beat (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

EIGHTH_TRIPLETS = groove_of(
    name="eighth-triplets",
    title="eighth triplets",
    meter="4/4",
    steps=3,
    lines=(
        ("cymbal", "Xoo xoo xoo xoo"),
        ("snare", "... X.. ... X.."),
        ("bass", "X.. ... X.. ..."),
    ),
)
