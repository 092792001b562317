"""March in two: bass drum on the beat, snare after it, a roll figure in the second bar (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

MARCH_IN_TWO = groove_of(
    name="march-in-two",
    title="march in two",
    meter="2/2",
    steps=4,
    lines=(
        ("bass", "X... x..."),
        ("snare", "..X. ..X. | ..X. xxX."),
        ("cymbal", "X... x..."),
    ),
)
