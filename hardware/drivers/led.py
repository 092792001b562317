"""The status light: one LED on a pin, whose rhythm says how the box stands."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from firmware.errors import DeviceError
from firmware.lamp import Lamp
from hardware.board.table import Board
from hardware.drivers.pin_factory import SharedPins

if TYPE_CHECKING:
    from gpiozero import LED


@dataclass(frozen=True, slots=True)
class Rhythm:
    """Seconds lit and dark, over and over; without dark it is steady, without either it is out."""

    lit: float
    dark: float


RHYTHMS: Final[Mapping[Lamp, Rhythm]] = MappingProxyType(
    {
        Lamp.STARTING: Rhythm(0.5, 0.5),
        Lamp.READY: Rhythm(1.0, 0.0),
        Lamp.TAKING: Rhythm(1.8, 0.2),
        Lamp.TROUBLE: Rhythm(0.1, 0.1),
        Lamp.OFF: Rhythm(0.0, 0.0),
    }
)
"""Told apart without colour, by those who see none, too."""


class GpioLed:
    """The light on its pin; keeps the StatusLight contract.

    Parameters
    ----------
    board
        Says which pin.
    pins
        The pin library, borrowed while it runs.
    """

    def __init__(self, board: Board, pins: SharedPins | None = None) -> None:
        self._pin = board.led.pin
        self._pins = pins or SharedPins()
        self._open = ExitStack()
        self._led: LED | None = None
        self._lock = threading.Lock()
        self._lamp = Lamp.STARTING
        self.trouble = ""
        """Why it can't be lit; empty when it can."""

    def start(self) -> None:
        """Light it. A box without pins, or whose pin is taken, has no light, and goes on."""
        from gpiozero import LED  # noqa: PLC0415 - a computer without pins has no gpiozero

        self.stop()
        with self._lock:
            try:
                with ExitStack() as opened:
                    factory = opened.enter_context(self._pins.borrowed())
                    self._led = opened.enter_context(LED(self._pin, pin_factory=factory))
                    self._open = opened.pop_all()
            except DeviceError as error:
                self.trouble = error.text
                return
            except Exception as error:  # noqa: BLE001 - each pin library has errors of its own, of no common kind
                self.trouble = f"status light: {error}"
                return
            self.trouble = ""
            self._light()

    def stop(self) -> None:
        """Put it out and let the pin go; a second call does nothing."""
        with self._lock:
            self._led = None
            self._open.close()

    def show(self, lamp: Lamp) -> None:
        """Say something with it, from now on; never raises."""
        with self._lock:
            if lamp != self._lamp:
                self._lamp = lamp
                self._light()

    def _light(self) -> None:
        led, rhythm = self._led, RHYTHMS[self._lamp]
        if led is None:
            return
        if rhythm.lit and rhythm.dark:
            led.blink(rhythm.lit, rhythm.dark)
        elif rhythm.lit:
            led.on()
        else:
            led.off()
