"""Horn: a broad hump over the first three partials and little above it."""

from __future__ import annotations

from firmware.sound.timbre import Timbre

HORN = Timbre(
    name="horn",
    title="Horn",
    levels_db=(0.0, 1.0, -1.0, -4.0, -8.0, -11.0, -14.0, -18.0, -21.0, -25.0, -28.0, -32.0, -35.0, -39.0, -42.0, -46.0),
    corner_hz=1800.0,
    order=1.5,
)
