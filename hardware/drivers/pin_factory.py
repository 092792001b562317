"""Which library moves the pins of this machine."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from firmware.errors import DeviceError

if TYPE_CHECKING:
    from gpiozero import Factory


def rpi_gpio() -> Factory:
    """Pins through RPi.GPIO: every Pi up to the 4."""
    from gpiozero.pins.rpigpio import RPiGPIOFactory  # noqa: PLC0415 - its import fails off such a Pi

    return RPiGPIOFactory()


def lgpio() -> Factory:
    """Pins through lgpio: the Pi 5, and any other machine with a gpiochip."""
    # On import it makes a FIFO in the working directory, which is read-only on the box.
    os.environ.setdefault("LG_WD", tempfile.gettempdir())
    from gpiozero.pins.lgpio import LGPIOFactory  # noqa: PLC0415 - its import writes that file

    return LGPIOFactory()


CHOICES: Final = (("RPi.GPIO", rpi_gpio), ("lgpio", lgpio))
"""In the order of trial: RPi.GPIO costs less time for each edge."""


def pin_factory(choices: tuple[tuple[str, Callable[[], Factory]], ...] = CHOICES) -> Factory:
    """The first library that works here.

    Raises
    ------
    DeviceError
        If none does; it says why not for each.
    """
    reasons = []
    for name, make in choices:
        try:
            return make()
        except Exception as error:  # noqa: BLE001 - each library fails in its own way off its machine
            reasons.append(f"{name}: {error}")
    tried = "; ".join(reasons)
    raise DeviceError("pins", "of this machine", f"a Raspberry Pi with its pins free is needed ({tried})")
