"""What came of a whole drill, in the words of the screen."""

from __future__ import annotations

from statistics import median
from typing import Final

from firmware.drills.drill import Run

ENOUGH: Final = 3
"""Rounds of which there is a middle to speak of."""


def middle(run: Run, unit: str) -> tuple[str, str]:
    """The middle round, in a unit; with too few of them only their number."""
    offs = [one.off for one in run.rounds if one.off is not None]
    rounds = f"{len(offs)} round{'' if len(offs) == 1 else 's'}"
    if len(offs) < ENOUGH:
        return rounds, "too few to tell"
    whole = round(median(offs))
    return f"{whole:+d} {unit}".replace("-", "−").replace("+0", "0"), f"middle of {len(offs)}"


def counted(run: Run, what: str) -> tuple[str, str]:
    """How many rounds were right, of all."""
    right = sum(one.right is True for one in run.rounds)
    return f"{right} of {len(run.rounds)}", what
