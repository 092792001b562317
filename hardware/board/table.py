"""The board file as a value, with the checks that keep two things off one pin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Any, Final

from firmware.errors import BadFileError
from firmware.events import PanelKey, Pedal
from firmware.plan.checked_toml import Entry, Section, check

GPIOS: Final = range(28)
"""The pins of the 40-way header, as BCM numbers."""

RESERVED: Final[Mapping[str, frozenset[int]]] = {
    "the add-on board's ID memory": frozenset({0, 1}),
    "I2C bus 1": frozenset({2, 3}),
    "I2S": frozenset({18, 19, 20, 21}),
}
"""Pins with a second function we use: BCM2835 ARM Peripherals, table 6-31 (from memory, tested against gpiozero)."""

I2C_BUSES: Final = (1,)
"""Bus 0 belongs to the add-on board's ID memory."""

CHIPS: Final = ("ssd1306", "sh1106")
SOUND_INTERFACES: Final = ("usb", "i2s")


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
    """Pins of the two pedal jacks."""

    pins: tuple[tuple[Pedal, int], ...]
    settle: float


@dataclass(frozen=True, slots=True)
class ScreenPort:
    """Which chip drives the OLED, and where it answers."""

    chip: str
    bus: int
    address: int


@dataclass(frozen=True, slots=True)
class Board:
    """One board: what is on which pin."""

    title: str
    keys: Keys
    knob: Knob
    pedals: Pedals
    screen: ScreenPort
    sound: str

    @property
    def pins(self) -> tuple[tuple[str, int], ...]:
        """Every pin with the name of what is on it."""
        knob = (("knob a", self.knob.a), ("knob b", self.knob.b), ("knob push", self.knob.push))
        keys = tuple((f"key {key}", pin) for key, pin in self.keys.pins)
        return keys + knob + tuple((f"{pedal} pedal", pin) for pedal, pin in self.pedals.pins)


def _pin(key: str) -> Entry:
    return Entry(key, int, low=GPIOS[0], high=GPIOS[-1], required=True, help="A BCM number (GPIO n).")


def _settle() -> Entry:
    return Entry("settle_ms", float, low=0.5, high=50.0, default=5.0, help="How long a contact must keep still.")


TABLE: Final = (
    Entry("title", str, low=1, high=60, default="a board"),
    Section("keys", (*(_pin(key.value) for key in PanelKey), _settle()), required=True),
    Section("knob", (_pin("a"), _pin("b"), _pin("push"), _settle()), required=True),
    Section("pedals", (*(_pin(pedal.value) for pedal in Pedal), _settle()), required=True),
    Section(
        "screen",
        (
            Entry("chip", CHIPS, required=True),
            Entry("bus", I2C_BUSES, default=1),
            Entry("address", int, low=0x08, high=0x77, default=0x3C),
        ),
        required=True,
    ),
    Section("sound", (Entry("interface", SOUND_INTERFACES, required=True),), required=True),
)


def read_board(text: str, source: str) -> Board:
    """A board from the text of its file.

    Raises
    ------
    BadFileError
        If anything in it is wrong: a box with half its keys is worse than one that says what to mend. The first
        problem is named, and how many more there are.
    """
    checked = check(text, source, TABLE)
    if checked.problems:
        first, more = checked.problems[0], len(checked.problems) - 1
        also = f"{more} more in this file." if more else ""
        raise BadFileError(first.thing, first.value, first.allowed, " ".join(filter(None, (first.remedy, also))))
    board = _board(checked.values)
    _keep_apart(board, source)
    return board


def own_board() -> Board:
    """The board that the project's own drawings describe."""
    text = resources.files("hardware.board").joinpath("pins.toml").read_text(encoding="utf-8")
    return read_board(text, "pins.toml")


def _board(values: Mapping[str, Any]) -> Board:
    keys, knob, pedals, screen = (values[name] for name in ("keys", "knob", "pedals", "screen"))
    return Board(
        title=values["title"],
        keys=Keys(tuple((key, keys[key.value]) for key in PanelKey), keys["settle_ms"] / 1000),
        knob=Knob(knob["a"], knob["b"], knob["push"], knob["settle_ms"] / 1000),
        pedals=Pedals(tuple((pedal, pedals[pedal.value]) for pedal in Pedal), pedals["settle_ms"] / 1000),
        screen=ScreenPort(screen["chip"], screen["bus"], screen["address"]),
        sound=values["sound"]["interface"],
    )


def _keep_apart(board: Board, source: str) -> None:
    """Refuse two things on one pin, and a pin that a bus in use needs; raises BadFileError."""
    owner: dict[int, str] = {}
    for use, pins in RESERVED.items():
        if use != "I2S" or board.sound == "i2s":
            owner.update(dict.fromkeys(pins, use))
    for name, pin in board.pins:
        if pin in owner:
            taken = owner.keys() | {used for _, used in board.pins}
            free = ", ".join(str(number) for number in GPIOS if number not in taken)
            raise BadFileError(f"{source}: pin of {name}", pin, f"{owner[pin]} is on it", f"Free: {free}.")
        owner[pin] = name
