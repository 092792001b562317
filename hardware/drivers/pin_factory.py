"""Which library moves the pins of this machine, and one of it for all who use them."""

from __future__ import annotations

import os
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING, Final

from firmware.errors import DeviceError
from hardware.board.table import own_board

if TYPE_CHECKING:
    from gpiozero import Factory


def rpi_gpio() -> Factory:
    """Pins through RPi.GPIO: every Pi up to the 4."""
    from gpiozero.pins.rpigpio import RPiGPIOFactory  # noqa: PLC0415 - its import fails off such a Pi

    return RPiGPIOFactory()


def lgpio() -> Factory:
    """Pins through lgpio: the Pi 5, and any other machine with a gpiochip."""
    # On import it makes a FIFO in the working directory, which is read-only on the box. The service has a folder in
    # memory of its own (RuntimeDirectory of systemd.exec).
    own = os.environ.get("RUNTIME_DIRECTORY", "").split(":")[0]
    os.environ.setdefault("LG_WD", own or tempfile.gettempdir())
    from gpiozero.pins.lgpio import LGPIOFactory  # noqa: PLC0415 - its import writes that file

    return LGPIOFactory()


CHOICES: Final = (("RPi.GPIO", rpi_gpio), ("lgpio", lgpio))
"""In the order of trial: RPi.GPIO costs less time for each edge."""

LIBRARIES: Final = {"rpigpio": "RPi.GPIO", "lgpio": "lgpio", "mock": "mock pins"}
"""Names of the libraries by the last part of gpiozero's module for them."""


def library_of(factory: Factory) -> str:
    """The name of the library behind a pin factory, for report.txt."""
    module = type(factory).__module__.rsplit(".", 1)[-1]
    return LIBRARIES.get(module, module)


def tells_edges(factory: Factory, pin: int) -> None:
    """See whether a library hears of edges on a pin; raises whatever it raises if not.

    RPi.GPIO is made, and reads pins, on kernels whose edges it can't hear: those that no longer number all pins of the
    machine from 0 in /sys/class/gpio.
    """
    from gpiozero import DigitalInputDevice  # noqa: PLC0415 - a computer without pins has no gpiozero

    DigitalInputDevice(pin, pull_up=True, pin_factory=factory).close()  # it listens from the first moment


def pin_factory(choices: tuple[tuple[str, Callable[[], Factory]], ...] = CHOICES, probe: int | None = None) -> Factory:
    """The first library that works here: it can be made, and hears of edges.

    Parameters
    ----------
    choices
        Names and makers, in the order of trial.
    probe
        The pin on which edges are tried; one of the board's keys if not said.

    Raises
    ------
    DeviceError
        If none does; it says why not for each.
    """
    reasons = []
    pin = own_board().keys.pins[0][1] if probe is None else probe
    for name, make in choices:
        try:
            with ExitStack() as made:
                factory = make()
                made.callback(factory.close)
                tells_edges(factory, pin)
                made.pop_all()
        except Exception as error:  # noqa: BLE001 - each library fails in its own way off its machine
            reasons.append(f"{name}: {error}")
        else:
            return factory
    tried = "; ".join(reasons)
    raise DeviceError("pins", "of this machine", f"a Raspberry Pi with its pins free is needed ({tried})")


class SharedPins:
    """One pin library for panel, screen, LED and power key; it is closed when the last of them lets go.

    Each with a library of its own would not do: RPi.GPIO frees the pins of all when one of them ends.

    Parameters
    ----------
    make
        Gives the library; raises DeviceError when there is none.
    """

    def __init__(self, make: Callable[[], Factory] = pin_factory) -> None:
        self._make = make
        self._factory: Factory | None = None
        self._users = 0
        self._lock = threading.Lock()
        self.library = ""
        """Name of the library that is, or was last, in use; for report.txt."""

    @contextmanager
    def borrowed(self) -> Iterator[Factory]:
        """The library, for as long as it is needed; raises DeviceError when there is none."""
        with self._lock:
            factory = self._factory = self._factory or self._make()
            self.library = library_of(factory)
            self._users += 1
        try:
            yield factory
        finally:
            with self._lock:
                self._users -= 1
                if not self._users:
                    self._factory = None
                    factory.close()
