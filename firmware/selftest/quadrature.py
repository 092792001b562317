"""How far a knob was turned, from the raw edges of its two tracks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from firmware.events import Event
from firmware.selftest.signals import LineChanged
from firmware.units import RATE

ROUND: Final = ((False, False), (True, False), (True, True), (False, True))
"""States of the tracks (a closed, b closed) in clockwise order: a closes first, the usual sense of such encoders."""

TOGETHER: Final = 0.001
"""Two tracks whose edges always come within so many seconds of each other are joined: in truth they take turns."""


@dataclass(frozen=True, slots=True)
class Turned:
    """A turn: whole cycles (clockwise counts up), edges of each track, and whether the tracks moved as one."""

    cycles: float
    a_edges: int
    b_edges: int
    as_one: bool


def turned(events: Iterable[Event], a: str, b: str) -> Turned:
    """Follow both tracks; bounces cancel out, since each edge that is undone counts back.

    Parameters
    ----------
    events : events
        With the edges of the lines `a` and `b`, both open at first.
    a, b : str
        Lines of the tracks.
    """
    state = {a: False, b: False}
    seen: dict[str, list[int]] = {a: [], b: []}
    quarters = 0
    for event in events:
        if not isinstance(event, LineChanged) or event.line not in state or state[event.line] == event.closed:
            continue
        before = ROUND.index((state[a], state[b]))
        state[event.line] = event.closed
        seen[event.line].append(event.at)
        quarters += 1 if (ROUND.index((state[a], state[b])) - before) % 4 == 1 else -1
    return Turned(quarters / 4, len(seen[a]), len(seen[b]), same_edges(seen[a], seen[b]))


def same_edges(one: list[int], other: list[int]) -> bool:
    """Whether every edge of one track comes with one of the other."""
    if not one or len(one) != len(other):
        return False
    return all(abs(first - second) <= TOGETHER * RATE for first, second in zip(one, other, strict=True))
