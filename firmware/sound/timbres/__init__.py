"""The timbres of the drone: a new one is a new file here and one line in the table."""

from __future__ import annotations

from typing import Final

from firmware.errors import UnknownNameError
from firmware.sound.timbre import Timbre
from firmware.sound.timbres.bowed import BOWED
from firmware.sound.timbres.flue import FLUE
from firmware.sound.timbres.horn import HORN
from firmware.sound.timbres.plain import PLAIN
from firmware.sound.timbres.reed import REED

TIMBRES: Final[tuple[Timbre, ...]] = (PLAIN, FLUE, REED, HORN, BOWED)


def timbre_named(name: str) -> Timbre:
    """The timbre of that name.

    Raises
    ------
    UnknownNameError
        If there is none.
    """
    for timbre in TIMBRES:
        if timbre.name == name:
            return timbre
    raise UnknownNameError("timbre", name, [timbre.name for timbre in TIMBRES])
