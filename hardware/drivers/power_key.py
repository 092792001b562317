"""The power key: held for a moment, it stops the box cleanly."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Final

from firmware.errors import DeviceError
from firmware.events import Event
from hardware.board.table import Board
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.settler import Settler

HOLD_SECONDS: Final = 1.5
"""Longer than a bag that leans against it, shorter than anybody's patience."""


@dataclass(frozen=True, slots=True)
class _Down(Event):
    """It went down."""


@dataclass(frozen=True, slots=True)
class _Up(Event):
    """It came up."""


class GpioPowerKey:
    """The key on its pin; keeps the PowerKey contract.

    Parameters
    ----------
    board
        Says which pin, and for how long it bounces.
    pins
        The pin library, borrowed while it runs.
    hold
        Seconds for which it must be held.
    """

    def __init__(self, board: Board, pins: SharedPins | None = None, hold: float = HOLD_SECONDS) -> None:
        self._port = board.power
        self._pins = pins or SharedPins()
        self._hold = hold
        self._open = ExitStack()
        self._timer: threading.Timer | None = None
        self._held: Callable[[], object] = bool

    def start(self, held: Callable[[], object]) -> None:
        """Begin to watch it; `held` is called once each time that it was held; raises DeviceError without pins.

        A key that is down at the start is jammed, and does nothing until it came up.
        """
        from gpiozero import DigitalInputDevice  # noqa: PLC0415 - as in panel.py

        self.stop()
        self._held = held
        with ExitStack() as opened:
            factory = opened.enter_context(self._pins.borrowed())
            settler = Settler(self._moved, int, time.monotonic)
            try:
                key = opened.enter_context(DigitalInputDevice(self._port.pin, pull_up=True, pin_factory=factory))
            except Exception as error:  # each pin library has errors of its own, of no common kind
                raise DeviceError("power key", self._port.pin, str(error), "Its pin must be free.") from error
            contact = settler.add(self._port.settle, _Down, _Up, closed=key.is_active)
            key.when_activated = lambda: settler.edge(contact, closed=True)
            key.when_deactivated = lambda: settler.edge(contact, closed=False)
            opened.callback(settler.stop)
            settler.start()
            self._open = opened.pop_all()

    def stop(self) -> None:
        """Stop watching it and let the pin go; a second call does nothing."""
        self._open.close()
        self._forget()

    def _moved(self, event: Event) -> None:
        self._forget()
        if isinstance(event, _Down):
            self._timer = threading.Timer(self._hold, self._held)
            self._timer.daemon = True
            self._timer.start()

    def _forget(self) -> None:
        timer, self._timer = self._timer, None
        if timer is not None:
            timer.cancel()
