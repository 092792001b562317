"""Reed: sixteen strong overtones, the easiest to tune against in a loud room."""

from __future__ import annotations

from firmware.sound.timbre import Timbre

REED = Timbre(
    name="reed",
    title="Reed",
    levels_db=(0.0, -1.0, -3.0, -4.0, -7.0, -8.0, -10.0, -12.0, -13.0, -15.0, -16.0, -18.0, -19.0, -21.0, -22.0, -24.0),
    corner_hz=2500.0,
    order=1.5,
)
