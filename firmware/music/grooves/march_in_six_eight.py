"""March in 6/8: two beats, each long and short (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

MARCH_IN_SIX_EIGHT = groove_of(
    name="march-in-6-8",
    title="march in 6/8",
    meter="6/8",
    steps=3,
    lines=(
        ("bass", "X.. x.."),
        ("snare", "..x X.x"),
        ("cymbal", "x.. x.."),
    ),
)
