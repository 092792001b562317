"""All tunings: to add one, put a file here and name it below."""

from __future__ import annotations

from collections.abc import Iterable

from firmware.errors import UnknownNameError
from firmware.music.tuning import Tuning
from firmware.music.tunings.equal import EQUAL
from firmware.music.tunings.just import JUST
from firmware.music.tunings.kirnberger_3 import KIRNBERGER_3
from firmware.music.tunings.meantone import MEANTONE
from firmware.music.tunings.pythagorean import PYTHAGOREAN
from firmware.music.tunings.vallotti import VALLOTTI
from firmware.music.tunings.werckmeister_3 import WERCKMEISTER_3
from firmware.music.tunings.young import YOUNG

TUNINGS: tuple[Tuning, ...] = (
    JUST,
    EQUAL,
    PYTHAGOREAN,
    MEANTONE,
    KIRNBERGER_3,
    WERCKMEISTER_3,
    VALLOTTI,
    YOUNG,
)


def tuning_named(name: str, own: Iterable[Tuning] = ()) -> Tuning:
    """Find a tuning by its name, first among the user's own."""
    known = (*own, *TUNINGS)
    for tuning in known:
        if tuning.name == name:
            return tuning
    raise UnknownNameError("tuning", name, (tuning.name for tuning in known))
