"""Son clave, three strokes in the first bar and two in the second, over quarters (common practice)."""

from __future__ import annotations

from firmware.music.groove import groove_of

SON_CLAVE = groove_of(
    name="son-clave",
    title="son clave 3-2",
    meter="4/4",
    steps=4,
    lines=(
        ("wood", "X..X ..X. .... .... | .... X... X... ...."),
        ("shaker", "x.o. x.o. x.o. x.o."),
    ),
)
