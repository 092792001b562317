"""A status light without a pin: says what it shows, and whether it is lit at a moment."""

from __future__ import annotations

from firmware.lamp import Lamp
from hardware.drivers.led import RHYTHMS


class SimulatedLed:
    """A light that keeps the StatusLight contract; `lamp` is what it says, `said` all that it has said."""

    def __init__(self) -> None:
        self.lamp = Lamp.STARTING
        self.said: list[Lamp] = []
        self.trouble = ""
        self._on = False

    def start(self) -> None:
        """Light it."""
        self._on = True

    def stop(self) -> None:
        """Put it out; a second call does nothing."""
        self._on = False

    def show(self, lamp: Lamp) -> None:
        """Say something with it, from now on."""
        self.lamp = lamp
        self.said.append(lamp)

    def lit_at(self, seconds: float) -> bool:
        """Whether it is lit so many seconds after it began to say what it says."""
        rhythm = RHYTHMS[self.lamp]
        whole = rhythm.lit + rhythm.dark
        return self._on and whole > 0.0 and seconds % whole < rhythm.lit
