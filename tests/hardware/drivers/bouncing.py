"""Fingers on contacts that bounce, in a time of its own: what a hand did, and what the real driver makes of it.

The contacts are mock pins; gpiozero, the driver's wiring and its settler are the real ones, only their clock is turned
by hand. A hand turns the knob at up to 20 detents a second, which puts 12.5 ms between two edges of its tracks; each
edge bounces for up to 5 ms. (EC11-type encoders: at most 3 ms while turned at 60 rpm, common practice in their data
sheets, from memory; keys: 5 ms.)
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field

import numpy as np
from gpiozero.pins.mock import MockFactory

from firmware.events import Event, KnobTurn
from firmware.units import RATE
from hardware.board.table import Board, own_board
from hardware.drivers.panel import GpioPanel, lines_of
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.settler import Settler

BOUNCE = 0.00499
"""Seconds that a contact goes on bouncing; just under the settling time of keys."""

DETENT = 0.05
"""Seconds from one detent to the next at 20 a second."""

REST = 0.012
"""Seconds for which a finger keeps a contact as it is, after its bounce, at least."""

Edge = tuple[float, int, int, bool]
"""Time, running number, pin, whether it is closed."""


@dataclass
class Hand:
    """Edges in the order of their times, and what was meant by them."""

    random: np.random.Generator
    edges: list[Edge] = field(default_factory=list)
    turns: list[int] = field(default_factory=list)
    presses: dict[int, list[tuple[float, bool]]] = field(default_factory=dict)

    def change(self, time: float, pin: int, *, closed: bool) -> float:
        """Close or open a contact, which bounces; the time when it keeps still."""
        many = int(self.random.integers(0, 6))
        times = time + np.sort(self.random.uniform(0.0, BOUNCE, 2 * many))
        for number, at in enumerate([time, *times]):
            heapq.heappush(self.edges, (float(at), len(self.edges), pin, closed == (number % 2 == 0)))
        return float(times[-1]) if many else time

    def turn(self, board: Board, detents: int) -> None:
        """Turn the knob there and back, a detent each 50 to 100 ms."""
        time = 0.1
        for _ in range(detents):
            steps = int(self.random.choice([1, -1])) if not self.turns or self.random.random() < 0.3 else self.turns[-1]
            lead, lag = (board.knob.a, board.knob.b) if steps > 0 else (board.knob.b, board.knob.a)
            for pin, closed in ((lead, True), (lag, True), (lead, False), (lag, False)):
                self.change(time, pin, closed=closed)
                time += DETENT / 4
            time += float(self.random.choice([0.0, self.random.uniform(0.0, DETENT)]))
            self.turns.append(steps)

    def press(self, pin: int, times: int) -> None:
        """Press and release one contact again and again."""
        time = 0.1 + float(self.random.uniform(0.0, 0.1))
        for _ in range(times):
            for closed in (True, False):
                self.presses.setdefault(pin, []).append((time, closed))
                time = self.change(time, pin, closed=closed) + REST + float(self.random.exponential(0.03))


def hand_of(seed: int, detents: int, presses: int) -> Hand:
    """A hand that turns the knob so many detents, while others press every contact so many times."""
    board, hand = own_board(), Hand(np.random.default_rng(seed))
    hand.turn(board, detents)
    for line in lines_of(board):
        hand.press(line.pin, presses)
    return hand


def felt(hand: Hand) -> list[Event]:
    """What the driver posts for what a hand did, each event with the sample count of its time."""
    time = 0.0
    posted: list[Event] = []
    factory = MockFactory()
    panel = GpioPanel(own_board(), SharedPins(lambda: factory))
    settler = Settler(posted.append, lambda: round(time * RATE), lambda: time)
    with ExitStack() as opened:
        panel._watch(factory, settler, opened)
        for at, _, pin, closed in _in_order(hand.edges):
            while (patience := settler._patience()) is not None and time + patience <= at:
                time += patience + 1e-9
                posted += settler.certain()
            time = at
            contact = factory.pin(pin)
            (contact.drive_low if closed else contact.drive_high)()
            if settler._turned is not None:
                posted += settler.certain()
        while (patience := settler._patience()) is not None:
            time += patience + 1e-9
            posted += settler.certain()
    return posted


def _in_order(edges: list[Edge]) -> Iterator[Edge]:
    waiting = list(edges)
    while waiting:
        yield heapq.heappop(waiting)


def turns_of(events: list[Event]) -> list[int]:
    """Each turn that was posted."""
    return [event.steps for event in events if isinstance(event, KnobTurn)]


def expected_presses(hand: Hand) -> list[Event]:
    """The presses and releases that were meant, each at its first edge."""
    lines = {line.pin: line for line in lines_of(own_board())}
    return [
        (lines[pin].down if closed else lines[pin].up)(round(time * RATE))
        for pin, changes in hand.presses.items()
        for time, closed in changes
    ]
