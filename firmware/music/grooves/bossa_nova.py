"""Bossa nova: two bars of a syncopated rim over a bass in dotted rhythm (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

BOSSA_NOVA = groove_of(
    name="bossa-nova",
    title="bossa nova",
    meter="4/4",
    steps=4,
    lines=(
        ("shaker", "xoxo xoxo xoxo xoxo"),
        ("bass", "X..x X..x X..x X..x"),
        ("wood", "X..X ..X. ..X. .X.. | ..X. .X.. X..X ..X."),
    ),
)
