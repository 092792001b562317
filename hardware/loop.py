"""The loop without threads: one call a block, as fast as the machine allows and the same every time."""

from __future__ import annotations

from collections import deque
from typing import Final, Protocol

import numpy as np

from firmware.box import Box
from firmware.events import Event, PowerDown, Tick
from firmware.sound.engine import Engine
from firmware.units import RATE, Samples
from hardware.dispatch import Dispatcher
from hardware.listener import Listener

TICK: Final = RATE // 20
"""Samples between two ticks of the Box."""
EMPTY: Final = np.zeros(0, dtype=np.float32)


class Pump(Protocol):
    """Work that a thread does on the box, and this loop does between two blocks."""

    def pump(self) -> object:
        """Do what is due."""


class OfflineLoop:
    """Runs the whole box over blocks of microphone sound.

    Parameters
    ----------
    box, engine, listener, dispatcher
        The composed box.
    pumps
        What else is to be served after every block: disk, replay.
    inbox : deque of Event
        Where drivers post; the same that the listener and the pumps were given as `inbox.append`.
    """

    def __init__(
        self,
        box: Box,
        engine: Engine,
        listener: Listener,
        dispatcher: Dispatcher,
        pumps: tuple[Pump, ...],
        inbox: deque[Event],
    ) -> None:
        self._box = box
        self._engine = engine
        self._listener = listener
        self._dispatcher = dispatcher
        self._pumps = pumps
        self._inbox = inbox
        self._next_tick = 0

    @property
    def box(self) -> Box:
        """The box that is run."""
        return self._box

    @property
    def now(self) -> int:
        """Samples done."""
        return self._engine.position

    def post(self, event: Event) -> None:
        """Hand an event to the Box; it is dealt with before the next block."""
        self._inbox.append(event)

    def block(self, mic: Samples) -> Samples:
        """Take in a microphone block, shape (n,), and give the loudspeaker block of the same samples."""
        self._settle()
        own = self._engine.process(mic)
        self._listener.hear(mic, own)
        self._pump()
        return own

    def finish(self) -> None:
        """End the rehearsal: stop the take, write the sheet, save what is not saved."""
        self.post(PowerDown(self.now))
        self._settle()
        self._listener.hear(EMPTY, EMPTY)
        self._pump()
        self._settle()
        self._pump()

    def _settle(self) -> None:
        if self.now >= self._next_tick:
            self._next_tick += TICK
            self.post(Tick(self.now))
        while self._inbox:
            self._dispatcher.do_all(self._box.handle(self._inbox.popleft()))

    def _pump(self) -> None:
        for pump in self._pumps:
            pump.pump()
