"""Swing in four: ride figure, foot on 2 and 4; the eighths take the ratio that is set (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

SWING = groove_of(
    name="swing",
    title="swing",
    meter="4/4",
    steps=2,
    lines=(
        ("cymbal", "X. xx X. xx"),
        ("wood", ".. X. .. X."),
        ("bass", "o. o. o. o."),
    ),
    swung="eighths",
)
