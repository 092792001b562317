"""Which sounds a plain pulse is made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from firmware.errors import UnknownNameError

SOUNDS: Final = (
    "high",
    "low",
    "tick",
    "wood",
    "block",
    "shaker",
    "bass",
    "snare",
    "cymbal",
    "tom",
    "bell",
    "cut",
)
"""Names of all sounds of the pulse; `firmware.sound.percussion` makes them."""


@dataclass(frozen=True, slots=True)
class Kit:
    """Sounds of the first beat of a bar, of another group, of other beats, of what divides them, of the other voice."""

    name: str
    bar: str
    group: str
    beat: str
    division: str
    cross: str


KITS: Final[tuple[Kit, ...]] = (
    Kit("click", "high", "high", "low", "tick", "wood"),
    Kit("wood", "wood", "wood", "block", "tick", "bell"),
    Kit("shaker", "bell", "shaker", "shaker", "shaker", "wood"),
    Kit("drums", "bass", "bass", "snare", "cymbal", "wood"),
)


def kit_named(name: str) -> Kit:
    """The kit of that name; raises UnknownNameError."""
    for kit in KITS:
        if kit.name == name:
            return kit
    raise UnknownNameError("kit", name, [kit.name for kit in KITS])
