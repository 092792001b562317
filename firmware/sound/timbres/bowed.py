"""Bowed: overtones that rise and fall a little, like a string body, without any vibrato."""

from __future__ import annotations

from firmware.sound.timbre import Timbre

BOWED = Timbre(
    name="bowed",
    title="Bowed",
    levels_db=(
        0.0,
        -4.0,
        -7.0,
        -6.0,
        -10.0,
        -12.0,
        -11.0,
        -15.0,
        -16.0,
        -17.0,
        -19.0,
        -19.0,
        -22.0,
        -22.0,
        -24.0,
        -25.0,
    ),
    corner_hz=3500.0,
    order=1.5,
)
