"""What a box that is tested has: its lines, its buses and what its sound should be like."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Line:
    """One contact on one pin.

    Parameters
    ----------
    name : str
        As the board file has it: "key Drone", "knob a", "left pedal".
    place : int
        Its place on the header.
    settle : float
        Seconds that the driver lets it bounce.
    outside : bool
        Whether its wire leaves the box, so that it has a pull-up of its own.
    """

    name: str
    place: int
    settle: float
    outside: bool = False

    @property
    def spoken(self) -> str:
        """Its name in a sentence: "Drone", "track A", "left pedal"."""
        if self.name in {"knob a", "knob b"}:
            return f"track {self.name[-1].upper()}"
        return self.name.removeprefix("key ")


@dataclass(frozen=True, slots=True)
class Bench:
    """A box to be tested.

    Parameters
    ----------
    keys, pedals : tuple of Line
        In panel order.
    a, b, push, power : Line
        Tracks and push of the knob, and the power key.
    led_place : int
        Place of the LED on the header.
    screen : int or None
        I2C address of the screen; None if it is not on I2C.
    clock : int or None
        I2C address of the clock chip; None if none is fitted.
    chip : str
        Controller of the screen as the board file has it.
    loop_db : float
        Level at the microphone of what the box plays, against what it plays, once the PA is as loud as speech.
    """

    keys: tuple[Line, ...]
    a: Line
    b: Line
    push: Line
    pedals: tuple[Line, ...]
    power: Line
    led_place: int = 22
    screen: int | None = 0x3C
    clock: int | None = None
    chip: str = "ssd1306"
    loop_db: float = -14.0

    @property
    def lines(self) -> tuple[Line, ...]:
        """Every contact."""
        return (*self.keys, self.a, self.b, self.push, *self.pedals, self.power)

    def line(self, name: str) -> Line:
        """A contact by its name; raises StopIteration if there is none."""
        return next(line for line in self.lines if line.name == name)
