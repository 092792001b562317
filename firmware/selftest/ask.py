"""What the self-test wants next, from the builder or from the hardware, and when it has it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from firmware.events import Event
from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn
from firmware.selftest.contacts import DWELL, edges_of, meant, presses_of, quiet_since
from firmware.selftest.signals import (
    BusScanned,
    ClockRead,
    KeyboardsFound,
    LinesProbed,
    SoundRecorded,
    StickMeasured,
    SupplyRead,
)
from firmware.units import RATE


class Do(StrEnum):
    """What is to be done."""

    HANDS_OFF = "hands-off"
    PRESS = "press"
    TURN_RIGHT = "turn-right"
    TURN_LEFT = "turn-left"
    STEP_ON = "step-on"
    LET_GO = "let-go"
    LOOK = "look"
    LOOK_ALL_LIT = "look-all-lit"
    WATCH_LED = "watch-led"
    LISTEN = "listen"
    PROBE = "probe"
    SCAN = "scan"
    MEASURE_STICK = "measure-stick"
    RECORD = "record"
    READ_SUPPLY = "read-supply"
    READ_CLOCK = "read-clock"
    FIND_KEYBOARDS = "find-keyboards"
    PLAY_NOTE = "play-note"


@dataclass(frozen=True, slots=True)
class Ask:
    """One wish of the self-test.

    Parameters
    ----------
    step : str
        Which step wants it.
    do : Do
        What is to be done.
    text : str
        What the builder reads; empty when the hardware does it alone.
    subject : str
        The line that it is about.
    choices : tuple of str
        Answers; the builder presses `key` once for the first, twice for the second, and so on.
    key, heard : str
        Line of the key to answer with, and the line on which that key is heard.
    patience : float
        Seconds until the self-test goes on without it.
    """

    step: str
    do: Do
    text: str = ""
    subject: str = ""
    choices: tuple[str, ...] = ()
    key: str = ""
    heard: str = ""
    patience: float = 10.0


@dataclass(frozen=True, slots=True)
class Evidence:
    """What came of a wish: the events until it was fulfilled or patience ran out; `closed` are lines closed before."""

    ask: Ask
    began: int
    events: tuple[Event, ...]
    closed: frozenset[str]
    ended: int

    @property
    def answer(self) -> int:
        """Number of the choice that was made, counted from 1; 0 for none."""
        count = presses_of(self.events, self.ask.heard) if self.ask.choices else 0
        return count if count <= len(self.ask.choices) else 0


Fulfils = Callable[[Ask, tuple[Event, ...], frozenset[str], int], bool]
"""Whether events fulfil a wish, given the lines that were closed before it, by a sample count."""

PRESS_QUIET: Final = 0.25
"""Seconds of stillness after which a press counts as over."""

TURN_QUIET: Final = 1.2
ANSWER_QUIET: Final = 1.2
"""Longer than anybody's pause between two presses of a count."""


def _whole_press(_ask: Ask, events: tuple[Event, ...], closed: frozenset[str], now: int) -> bool:
    """Whether something was pressed, let go, and kept still."""
    edges = meant(events, closed, now)
    first = {edge.line: edge.closed for edge in reversed(edges)}
    last = {edge.line: edge.closed for edge in edges}
    back = all(first[line] != last[line] for line in first)
    return bool(edges) and back and quiet_since(edges, now) >= PRESS_QUIET * RATE


def _moved(_ask: Ask, events: tuple[Event, ...], closed: frozenset[str], now: int) -> bool:
    edges = meant(events, closed, now)
    return bool(edges) and quiet_since(edges, now) >= PRESS_QUIET * RATE


def _turned(_ask: Ask, events: tuple[Event, ...], closed: frozenset[str], now: int) -> bool:
    edges = meant(events, closed, now)
    return bool(edges) and quiet_since(edges, now) >= TURN_QUIET * RATE


def _answered(ask: Ask, events: tuple[Event, ...], _closed: frozenset[str], now: int) -> bool:
    own = edges_of(events, ask.heard)
    return presses_of(own, ask.heard) > 0 and quiet_since(own, now) >= ANSWER_QUIET * RATE


def _told(kind: type[Event]) -> Fulfils:
    return lambda _ask, events, _closed, _now: any(isinstance(event, kind) for event in events)


def _played(_ask: Ask, events: tuple[Event, ...], _closed: frozenset[str], _now: int) -> bool:
    """Whether a note was played and ended, or the keyboard went."""
    begun = {event.note for event in events if isinstance(event, NoteOn)}
    ended = {event.note for event in events if isinstance(event, NoteOff)}
    gone = any(isinstance(event, KeyboardChanged) and not event.present for event in events)
    return gone or (bool(begun) and begun <= ended)


def _never(_ask: Ask, _events: tuple[Event, ...], _closed: frozenset[str], _now: int) -> bool:
    return False


FULFILLED: Final[Mapping[Do, Fulfils]] = {
    Do.HANDS_OFF: _never,
    Do.PRESS: _whole_press,
    Do.TURN_RIGHT: _turned,
    Do.TURN_LEFT: _turned,
    Do.STEP_ON: _moved,
    Do.LET_GO: _moved,
    Do.LOOK: _answered,
    Do.LOOK_ALL_LIT: _answered,
    Do.WATCH_LED: _answered,
    Do.LISTEN: _answered,
    Do.PROBE: _told(LinesProbed),
    Do.SCAN: _told(BusScanned),
    Do.MEASURE_STICK: _told(StickMeasured),
    Do.RECORD: _told(SoundRecorded),
    Do.READ_SUPPLY: _told(SupplyRead),
    Do.READ_CLOCK: _told(ClockRead),
    Do.FIND_KEYBOARDS: _told(KeyboardsFound),
    Do.PLAY_NOTE: _played,
}
"""By what is to be done, whether the events so far fulfil it; HANDS_OFF lasts as long as its patience."""


def over(ask: Ask, events: tuple[Event, ...], closed: frozenset[str], began: int, now: int) -> bool:
    """Whether a wish is fulfilled, or patience for it has run out; `closed` are lines that were closed before it.

    None ends within a spark: the line would seem closed to the next one.
    """
    waited = (now - began) / RATE
    if quiet_since(events, now) < DWELL * RATE and waited < ask.patience + 1.0:
        return False
    return waited >= ask.patience or FULFILLED[ask.do](ask, events, closed, now)
