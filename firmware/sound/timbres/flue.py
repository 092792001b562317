"""Flue: soft overtones falling evenly, like a stopped-down organ rank."""

from __future__ import annotations

from firmware.sound.timbre import Timbre

FLUE = Timbre(
    name="flue",
    title="Flue",
    levels_db=(0.0, -9.0, -14.0, -18.0, -24.0, -28.0, -33.0, -38.0),
    corner_hz=3000.0,
    order=1.0,
)
