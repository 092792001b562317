"""A builder without hands: does with a simulated box what the self-test asks for, and answers its questions."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from firmware.events import Event
from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn
from firmware.screens.frame import Frame
from firmware.selftest.ask import Ask, Do
from firmware.selftest.bench import Bench
from firmware.selftest.pictures import ALL_LIT, picture
from firmware.selftest.steps.knob import CLICKS
from firmware.units import RATE
from hardware.simulated.board import SimulatedLines
from hardware.simulated.faulty_box import FaultyBox

LOOKS: Final = 2.4
"""Seconds longer to look at two pictures that take turns."""

BOUNCE_SECONDS: Final = 0.0007
"""From one bounce to the next."""

SLIP_SECONDS: Final = 0.008
"""How long a cold joint opens."""


MIDDLE_C: Final = 60
"""Key number of MIDI 1.0."""


@dataclass(frozen=True, slots=True)
class Pace:
    """Seconds that a builder takes: to begin, to hold a key, for a click of the knob, for a tap, and between taps."""

    reaction: float = 0.6
    held: float = 1.0
    click: float = 0.12
    tap: float = 0.10
    between: float = 0.30


class SimulatedBuilder:
    """Moves the contacts of a box in simulated time.

    Parameters
    ----------
    bench, box, lines
        What is tested, how it was built, and its contacts.
    pace : Pace
        Of the builder's hands.
    slips : mapping of str to str
        Contacts instead of which another one is pressed when they are asked for the first time.
    """

    def __init__(
        self,
        bench: Bench,
        box: FaultyBox,
        lines: SimulatedLines,
        pace: Pace | None = None,
        slips: Mapping[str, str] | None = None,
    ) -> None:
        self._pace = pace or Pace()
        self._slips = dict(slips or {})
        self._bench = bench
        self._box = box
        self._lines = lines
        self._later: list[tuple[int, int, Callable[[], None]]] = []
        self._count = 0
        self._phase = 0
        self._clicks = 0
        self._played: list[Event] = []

    @property
    def due(self) -> int | None:
        """When the next contact moves, in samples; None if nothing is to be done."""
        return self._later[0][0] if self._later else None

    def move(self, now: int) -> None:
        """Do what is due."""
        while self._later and self._later[0][0] <= now:
            heapq.heappop(self._later)[2]()

    def asked(self, ask: Ask, now: int) -> None:
        """Begin to do what is asked for."""
        at = now + round((self._pace.reaction + LOOKS * (ask.do is Do.LOOK_ALL_LIT)) * RATE)
        if ask.do is Do.PRESS:
            self._press(self._slips.pop(ask.subject, ask.subject), at)
        elif ask.do in {Do.TURN_RIGHT, Do.TURN_LEFT}:
            self._turn(1 if ask.do is Do.TURN_RIGHT else -1, at)
        elif ask.do in {Do.STEP_ON, Do.LET_GO}:
            self._bouncing(ask.subject, at, down=ask.do is Do.STEP_ON)
        elif ask.do is Do.PLAY_NOTE:
            self._play(at)
        elif ask.choices and ask.key:
            for number in range(self._choice(ask)):
                start = at + round(number * (self._pace.tap + self._pace.between) * RATE)
                self._bouncing(ask.key, start, down=True)
                if not self._box.manners[ask.key].sticks:
                    self._bouncing(ask.key, start + round(self._pace.tap * RATE), down=False)

    def played(self) -> tuple[Event, ...]:
        """What came from the keyboard since the last call."""
        played = tuple(self._played)
        self._played.clear()
        return played

    def _play(self, at: int) -> None:
        """Press a key of the keyboard, and let it go."""
        ends = at + round(self._pace.held * RATE)
        for comes in {
            "plays": (NoteOn(at, MIDDLE_C), NoteOff(ends, MIDDLE_C)),
            "holds": (NoteOn(at, MIDDLE_C),),
            "goes": (NoteOn(at, MIDDLE_C), KeyboardChanged(ends, present=False, name=self._box.keyboard)),
        }.get(self._box.keyboard_does, ()):
            self._after(comes.at, partial(self._played.append, comes))

    def _after(self, at: int, act: Callable[[], None]) -> None:
        self._count += 1
        heapq.heappush(self._later, (at, self._count, act))

    def _set(self, contact: str, at: int, *, down: bool) -> None:
        self._after(at, lambda: self._lines.press(contact, down=down))

    def _bouncing(self, contact: str, at: int, *, down: bool) -> None:
        """Change a contact and let it bounce."""
        self._set(contact, at, down=down)
        for number in range(1, round(self._box.manners[contact].bounce_ms / 1000 / BOUNCE_SECONDS / 2) + 1):
            step = round(2 * number * BOUNCE_SECONDS * RATE)
            self._set(contact, at + step - round(BOUNCE_SECONDS * RATE), down=not down)
            self._set(contact, at + step, down=down)

    def _press(self, contact: str, at: int) -> None:
        self._bouncing(contact, at, down=True)
        if self._box.manners[contact].lets_go:
            for share in (0.3, 0.6):
                slip = at + round(share * self._pace.held * RATE)
                self._set(contact, slip, down=False)
                self._set(contact, slip + round(SLIP_SECONDS * RATE), down=True)
        if not self._box.manners[contact].sticks:
            self._bouncing(contact, at + round(self._pace.held * RATE), down=False)

    def _turn(self, way: int, at: int) -> None:
        for click in range(CLICKS):
            self._clicks += 1
            lost = self._box.loses_each and self._clicks % self._box.loses_each == 0
            start = at + round(click * self._pace.click * RATE)
            for quarter in range(self._box.quarters):
                self._quarter(
                    way, start + round(quarter * self._pace.click / self._box.quarters * RATE), lost=bool(lost)
                )

    def _quarter(self, way: int, at: int, *, lost: bool) -> None:
        """Let one track change, as the next quarter of a cycle has it; in a lost click track b makes no contact."""
        before, self._phase = self._phase, (self._phase + way) % 4
        for track, phases in ((self._bench.a.name, {1, 2}), (self._bench.b.name, {2, 3})):
            down = self._phase in phases
            if down == (before in phases) or (lost and track == self._bench.b.name):
                continue
            self._set(track, at, down=down)
            for number in range(1, self._box.chatter + 2):
                step = round(number * 2 * BOUNCE_SECONDS / (self._box.chatter + 1) * RATE)
                self._set(track, at + step - 8, down=not down)
                self._set(track, at + step, down=down)

    def _choice(self, ask: Ask) -> int:
        if ask.do is Do.LOOK:
            return self._look(picture(ask))
        if ask.do is Do.LOOK_ALL_LIT:
            return 1 if self._box.seen(ALL_LIT) == ALL_LIT else 2
        if ask.do is Do.WATCH_LED:
            return self._box.led
        heard = self._box.sound.speaker and not self._box.sound.card
        return 1 if heard else 2

    def _look(self, shown: Frame) -> int:
        seen = self._box.seen(shown)
        dots = np.unpackbits(np.frombuffer(shown.bits, dtype=np.uint8))
        if seen in {shown, self._with_dots_lost(shown)}:
            return 1
        if seen == Frame():
            return 4
        return 2 if np.packbits(dots[::-1]).tobytes() == seen.bits else 3

    def _with_dots_lost(self, shown: Frame) -> Frame:
        """A picture that lacks a line still has its arrow up and its rim."""
        return self._box.seen(shown) if self._box.glass == "dots" else shown
