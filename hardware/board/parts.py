"""A board as a value: what is on which pin, with which parts around it."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.events import PanelKey, Pedal


@dataclass(frozen=True, slots=True)
class Keys:
    """Pins of the six keys, in panel order; a contact counts once it has kept still for `settle` seconds."""

    pins: tuple[tuple[PanelKey, int], ...]
    settle: float


@dataclass(frozen=True, slots=True)
class Knob:
    """Pins of the knob's two tracks and of its push; `settle` is for the push, the tracks need none."""

    a: int
    b: int
    push: int
    settle: float


@dataclass(frozen=True, slots=True)
class Pedals:
    """Pins of the two pedal jacks, and the parts beside each: two resistors in ohms, a capacitor in farad."""

    pins: tuple[tuple[Pedal, int], ...]
    settle: float
    pull_up: float
    series: float
    filter: float


@dataclass(frozen=True, slots=True)
class PowerKey:
    """The key that stops the box cleanly."""

    pin: int
    settle: float


@dataclass(frozen=True, slots=True)
class StatusLed:
    """The LED, lit when its pin is high: its resistor in ohms and its own voltage."""

    pin: int
    series: float
    forward_volts: float


@dataclass(frozen=True, slots=True)
class ScreenPort:
    """Which chip drives the OLED, and where it answers: `address` on I2C, `dc` and `reset` (pins) on SPI."""

    chip: str
    bus: int
    address: int
    interface: str = "i2c"
    dc: int = 15
    reset: int = 14
    rotated: bool = False
    supply_ma: float = 130.0


@dataclass(frozen=True, slots=True)
class ClockPort:
    """The clock chip on I2C bus 1, if one is fitted."""

    fitted: bool
    address: int


@dataclass(frozen=True, slots=True)
class Variant:
    """One way to give the box its sound; `interface` is "usb" or "i2s"."""

    name: str
    title: str
    interface: str
    supply_ma: float


@dataclass(frozen=True, slots=True)
class Board:
    """One board: what is on which pin; `loop_db` is the level of its sound at its microphone that is right."""

    title: str
    variant: Variant
    keys: Keys
    knob: Knob
    pedals: Pedals
    power: PowerKey
    led: StatusLed
    screen: ScreenPort
    clock: ClockPort
    serial_console: bool
    loop_db: float

    @property
    def sound(self) -> str:
        """How sound comes and goes: "usb" or "i2s"."""
        return self.variant.interface

    @property
    def pins(self) -> tuple[tuple[str, int], ...]:
        """Pins of the panel's contacts with their names: keys, knob, pedals."""
        knob = (("knob a", self.knob.a), ("knob b", self.knob.b), ("knob push", self.knob.push))
        keys = tuple((f"key {key}", pin) for key, pin in self.keys.pins)
        return (*keys, *knob, *((f"{pedal} pedal", pin) for pedal, pin in self.pedals.pins))

    @property
    def contacts(self) -> tuple[tuple[str, int], ...]:
        """Every pin that a contact closes to ground, with the name of that contact."""
        return (*self.pins, ("power key", self.power.pin))

    @property
    def all_pins(self) -> tuple[tuple[str, int], ...]:
        """Every pin of our own with the name of what is on it; those of buses are in `hardware.board.header`."""
        screen = (("screen DC", self.screen.dc), ("screen reset", self.screen.reset))
        return (*self.contacts, ("LED", self.led.pin), *(screen if self.screen.interface == "spi" else ()))
