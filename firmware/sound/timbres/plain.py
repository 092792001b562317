"""Plain: almost a sine, with just enough overtones to beat against a player."""

from __future__ import annotations

from firmware.sound.timbre import Timbre

PLAIN = Timbre(
    name="plain",
    title="Plain",
    levels_db=(0.0, -14.0, -26.0, -38.0),
    corner_hz=4000.0,
    order=1.0,
)
