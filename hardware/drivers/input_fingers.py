"""What is down on one input device, as a value: from the kernel's events to those of a panel."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final, Protocol

from firmware.events import KnobTurn
from hardware.drivers.input_table import (
    DOWN,
    EV_KEY,
    EV_REL,
    EV_SYN,
    REPEAT,
    STROKES,
    SYN_DROPPED,
    SYN_REPORT,
    UP,
    Kind,
    Make,
    Press,
    Turn,
)


class RawEvent(Protocol):
    """One event of the kernel, as evdev gives it."""

    type: int
    code: int
    value: int


@dataclass(frozen=True, slots=True)
class Fingers:
    """One device: codes of the keys that are down, and whether the kernel's queue ran over."""

    kind: Kind
    held: tuple[int, ...] = ()
    torn: bool = False
    stale: bool = False
    """After a queue that ran over: what is down must be asked for."""


Told = tuple[Fingers, tuple[Make, ...]]
NOTHING: Final[tuple[Make, ...]] = ()


def feel(fingers: Fingers, event: RawEvent) -> Told:
    """The fingers after an event, and what the panel posts for it.

    A key that was down already when its device was plugged in says nothing until it is pressed anew.
    """
    if event.type == EV_SYN:
        return _report(fingers, event.code), NOTHING
    if fingers.torn:
        return fingers, NOTHING  # the rest of a packet whose beginning is lost
    if fingers.kind.knob:
        return fingers, ((_turn(event.value),) if event.type == EV_REL and event.value else NOTHING)
    return _key(fingers, event.code, event.value) if event.type == EV_KEY else (fingers, NOTHING)


def _report(fingers: Fingers, code: int) -> Fingers:
    if code == SYN_DROPPED:
        return replace(fingers, torn=True)
    over = fingers.torn and code == SYN_REPORT
    return replace(fingers, torn=False, stale=True) if over else fingers


def _key(fingers: Fingers, code: int, value: int) -> Told:
    stroke = STROKES.get(code)
    if stroke is None:
        return fingers, NOTHING
    means, down = stroke.means, code in fingers.held
    if value == DOWN and not down:
        after = replace(fingers, held=(*fingers.held, code))
        return after, (means.down if isinstance(means, Press) else _turn(means.steps),)
    if value == REPEAT and down and isinstance(means, Turn):
        return fingers, (_turn(means.steps),)
    if value == UP and down:
        after = replace(fingers, held=tuple(one for one in fingers.held if one != code))
        return after, ((means.up,) if isinstance(means, Press) else NOTHING)
    return fingers, NOTHING


def agree(fingers: Fingers, down: Iterable[int]) -> Told:
    """Let go of what is no longer down; a press that was lost stays lost, since nobody knows when it was."""
    fingers = replace(fingers, stale=False)
    told: tuple[Make, ...] = ()
    for code in set(fingers.held) - set(down):
        fingers, more = _key(fingers, code, UP)
        told += more
    return fingers, told


def let_go(fingers: Fingers) -> Told:
    """Everything comes up, as when the device is pulled out."""
    return agree(fingers, ())


def _turn(steps: int) -> Make:
    return lambda at: KnobTurn(at, steps)
