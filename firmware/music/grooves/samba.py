"""Samba in two: bass drum stronger on 2, sixteenths of a shaker, a syncopated rim (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

SAMBA = groove_of(
    name="samba",
    title="samba",
    meter="2/4",
    steps=4,
    lines=(
        ("shaker", "XoxX oxXo"),
        ("bass", "o..o X..o"),
        ("wood", "x.x. .x.x | .x.x x.x."),
    ),
)
