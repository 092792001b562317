"""The drills, one file each: questions that a class answers by ear; to add one, put a file here and name it below."""

from __future__ import annotations

from typing import Final

from firmware.drills.balance import BALANCE
from firmware.drills.drill import Drill
from firmware.drills.match import MATCH
from firmware.drills.settle import SETTLE
from firmware.drills.which import WHICH
from firmware.errors import UnknownNameError

DRILLS: Final[tuple[Drill, ...]] = (
    SETTLE,
    WHICH,
    MATCH,
    BALANCE,
)


def drill_named(name: str) -> Drill:
    """Find a drill by its name."""
    for drill in DRILLS:
        if drill.name == name:
            return drill
    raise UnknownNameError("drill", name, (drill.name for drill in DRILLS))
