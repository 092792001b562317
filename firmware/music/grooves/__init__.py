"""The grooves that come with the box: a new one is a new file here and one line in the table."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from firmware.errors import UnknownNameError
from firmware.music.groove import Groove
from firmware.music.grooves.bossa_nova import BOSSA_NOVA
from firmware.music.grooves.cha_cha import CHA_CHA
from firmware.music.grooves.eighth_triplets import EIGHTH_TRIPLETS
from firmware.music.grooves.march_in_six_eight import MARCH_IN_SIX_EIGHT
from firmware.music.grooves.march_in_two import MARCH_IN_TWO
from firmware.music.grooves.quarter_triplets import QUARTER_TRIPLETS
from firmware.music.grooves.samba import SAMBA
from firmware.music.grooves.shuffle import SHUFFLE
from firmware.music.grooves.slow_twelve_eight import SLOW_TWELVE_EIGHT
from firmware.music.grooves.son_clave import SON_CLAVE
from firmware.music.grooves.straight_eighths import STRAIGHT_EIGHTHS
from firmware.music.grooves.straight_sixteenths import STRAIGHT_SIXTEENTHS
from firmware.music.grooves.swing import SWING
from firmware.music.grooves.waltz import WALTZ

GROOVES: Final[tuple[Groove, ...]] = (
    STRAIGHT_EIGHTHS,
    STRAIGHT_SIXTEENTHS,
    SWING,
    SHUFFLE,
    MARCH_IN_TWO,
    MARCH_IN_SIX_EIGHT,
    WALTZ,
    SAMBA,
    BOSSA_NOVA,
    CHA_CHA,
    SON_CLAVE,
    QUARTER_TRIPLETS,
    EIGHTH_TRIPLETS,
    SLOW_TWELVE_EIGHT,
)


def groove_named(name: str, own: Iterable[Groove] = ()) -> Groove:
    """Find a groove by its name, first among the user's own.

    Raises
    ------
    UnknownNameError
        If there is none.
    """
    known = (*own, *GROOVES)
    for groove in known:
        if groove.name == name:
            return groove
    raise UnknownNameError("groove", name, (groove.name for groove in known))
