"""Quarter-note triplets: three strokes in the time of two beats, over the beats themselves (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

QUARTER_TRIPLETS = groove_of(
    name="quarter-triplets",
    title="quarter triplets",
    meter="4/4",
    steps=3,
    lines=(
        ("wood", "X.x .x. X.x .x."),
        ("low", "x.. x.. x.. x.."),
        ("high", "X.. ... ... ..."),
    ),
)
