"""What a contact did while it was watched: bursts of edges, how long they bounced, how often it was pressed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from firmware.events import Event
from firmware.selftest.signals import LineChanged
from firmware.units import RATE

APART: Final = 0.025
"""Edges nearer to each other, in seconds, belong to one burst: contacts bounce for some milliseconds."""

DWELL: Final = 0.005
"""A line counts as moved when it kept away from where it was for so many seconds; less is a spark or a bounce."""

COUNT_APART: Final = 0.12
"""Presses nearer to each other, in seconds, count as one: nobody counts so fast."""


@dataclass(frozen=True, slots=True)
class Burst:
    """Edges in quick succession: their times in samples, what the contact was before them and after."""

    first: int
    last: int
    before: bool
    after: bool

    @property
    def seconds(self) -> float:
        """How long it bounced."""
        return (self.last - self.first) / RATE


def edges_of(events: Iterable[Event], line: str) -> tuple[LineChanged, ...]:
    """The edges of one line, in order."""
    return tuple(event for event in events if isinstance(event, LineChanged) and event.line == line)


def bursts_of(events: Iterable[Event], line: str) -> tuple[Burst, ...]:
    """The bursts of one line, in order."""
    found: list[Burst] = []
    for edge in edges_of(events, line):
        if found and edge.at - found[-1].last <= APART * RATE:
            found[-1] = Burst(found[-1].first, edge.at, found[-1].before, edge.closed)
        else:
            found.append(Burst(edge.at, edge.at, not edge.closed, edge.closed))
    return tuple(found)


def moved_lines(events: Iterable[Event], closed: frozenset[str], now: int) -> frozenset[str]:
    """Lines that were away from where they had been before, for long enough in one piece to be meant.

    `closed` are those that had been closed.
    """
    since: dict[str, int] = {}
    found = set()
    for event in events:
        if not isinstance(event, LineChanged):
            continue
        if event.closed != (event.line in closed):
            since.setdefault(event.line, event.at)
        elif event.line in since and event.at - since.pop(event.line) >= DWELL * RATE:
            found.add(event.line)
    return frozenset(found | {line for line, at in since.items() if now - at >= DWELL * RATE})


def presses_of(events: Iterable[Event], line: str) -> int:
    """How often a contact was closed, bounces and slips not counted."""
    count, last = 0, None
    for edge in edges_of(events, line):
        if edge.closed and (last is None or edge.at - last > COUNT_APART * RATE):
            count += 1
        last = edge.at
    return count


def quiet_since(events: Iterable[Event], now: int) -> int:
    """Samples since the last edge of any line; since time 0 if there was none."""
    return now - max((event.at for event in events if isinstance(event, LineChanged)), default=0)


def meant(events: tuple[Event, ...], closed: frozenset[str], now: int) -> tuple[LineChanged, ...]:
    """The edges of lines that moved, without the sparks of others."""
    lines = moved_lines(events, closed, now)
    return tuple(event for event in events if isinstance(event, LineChanged) and event.line in lines)
