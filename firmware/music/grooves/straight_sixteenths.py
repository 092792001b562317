"""Straight sixteenths in four (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

STRAIGHT_SIXTEENTHS = groove_of(
    name="straight-sixteenths",
    title="straight 16ths",
    meter="4/4",
    steps=4,
    lines=(
        ("shaker", "Xoxo Xoxo Xoxo Xoxo"),
        ("snare", ".... X... .... X..."),
        ("bass", "X... ..x. ..X. ...."),
    ),
)
