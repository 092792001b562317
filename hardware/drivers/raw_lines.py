"""The contacts of the box as they are, bounces and all: what the self-test looks at instead of events of the panel."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import ExitStack
from typing import TYPE_CHECKING, Final

from firmware.errors import DeviceError
from firmware.events import Event
from firmware.ports import Now, Post
from firmware.selftest.signals import LineChanged, Probe
from hardware.board.table import Board
from hardware.drivers.pin_factory import SharedPins

if TYPE_CHECKING:
    from gpiozero import DigitalInputDevice, Factory

SETTLE_SECONDS: Final = 0.02
"""After a pull was changed: the capacitor beside a pedal's pin charges through 10 kilohms in 1 ms, through the
processor's own pull in 8."""


class RawLines:
    """Every contact of a board on its pin.

    Parameters
    ----------
    board : Board
        What is on which pin.
    pins : SharedPins
        The pin library, borrowed while it runs.
    sleep : function
        Waits for some seconds; given by tests.
    """

    def __init__(
        self, board: Board, pins: SharedPins | None = None, sleep: Callable[[float], object] = time.sleep
    ) -> None:
        self._contacts = board.contacts
        self._pins = pins or SharedPins()
        self._sleep = sleep
        self._open = ExitStack()
        self._inputs = ExitStack()
        self._factory: Factory | None = None
        self._post: Post = _nobody
        self._now: Now = int
        self._told: dict[str, bool] = {}
        self._lock = threading.Lock()

    def start(self, post: Post, now: Now) -> None:
        """Begin to post each edge; a line that is closed is told at once. Raises DeviceError without pins."""
        self.stop()
        with ExitStack() as opened:
            self._factory = opened.enter_context(self._pins.borrowed())
            self._post, self._now, self._told = post, now, {}
            opened.callback(self._close_inputs)
            self._watch()
            self._open = opened.pop_all()

    def stop(self) -> None:
        """Let the pins go; a second call does nothing."""
        self._open.close()

    def probe(self) -> tuple[Probe, ...]:
        """How each line reads with the processor's pull-up, then with its pull-down; edges meanwhile are not told."""
        self._close_inputs()
        up = self._read(pull_up=True)
        down = self._read(pull_up=False)
        self._watch()
        return tuple(Probe(name, up[name], down[name]) for name, _ in self._contacts)

    def _close_inputs(self) -> None:
        self._inputs.close()

    def _watch(self) -> None:
        """Open every pin with its pull-up and let its edges be told, after what it is by now."""
        with ExitStack() as opened:
            for name, device in self._devices(opened, pull_up=True).items():
                device.when_activated = self._telling(name, closed=True)
                device.when_deactivated = self._telling(name, closed=False)
                self._tell(name, closed=bool(device.is_active))
            self._inputs = opened.pop_all()

    def _read(self, *, pull_up: bool) -> dict[str, bool]:
        with ExitStack() as opened:
            devices = self._devices(opened, pull_up=pull_up)
            self._sleep(SETTLE_SECONDS)
            return {name: bool(device.pin.state) for name, device in devices.items()}

    def _devices(self, opened: ExitStack, *, pull_up: bool) -> dict[str, DigitalInputDevice]:
        from gpiozero import DigitalInputDevice, GPIOZeroError  # noqa: PLC0415 - a computer without pins has none

        devices = {}
        for name, pin in self._contacts:
            try:
                device = DigitalInputDevice(pin, pull_up=pull_up, pin_factory=self._factory)
            except (GPIOZeroError, OSError) as error:
                raise DeviceError("pins", str(error), "every pin of the board file must be free") from error
            devices[name] = opened.enter_context(device)
        return devices

    def _telling(self, name: str, *, closed: bool) -> Callable[[], None]:
        return lambda: self._tell(name, closed=closed)

    def _tell(self, name: str, *, closed: bool) -> None:
        with self._lock:
            if self._told.get(name, False) == closed:
                return
            self._told[name] = closed
            self._post(LineChanged(self._now(), name, closed))


def _nobody(_event: Event) -> None:
    """Nobody listens yet."""
