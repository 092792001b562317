"""The board file, read and checked."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources
from typing import Any, Final

from firmware.errors import BadFileError
from firmware.events import PanelKey, Pedal
from firmware.plan.checked_toml import Entry, Section, check
from hardware.board.checks import first_problem
from hardware.board.header import GPIOS, RESERVED
from hardware.board.limits import I2C_ADDRESSES
from hardware.board.parts import Board, ClockPort, Keys, Knob, Pedals, PowerKey, ScreenPort, StatusLed, Variant

__all__ = ["CHIPS", "RESERVED", "VARIANTS", "Board", "ScreenPort", "own_board", "read_board"]

FILE: Final = "board.toml"

I2C_BUSES: Final = (1,)
"""Bus 0 belongs to the add-on board's ID memory."""

CHIPS: Final = ("ssd1306", "sh1106")
SCREEN_INTERFACES: Final = ("i2c", "spi")
SOUND_INTERFACES: Final = ("usb", "i2s")
VARIANTS: Final = ("A", "B")


def _pin(key: str, default: int | None = None) -> Entry:
    required = default is None
    return Entry(
        key, int, low=GPIOS[0], high=GPIOS[-1], required=required, default=default, help="A BCM number (GPIO n)."
    )


def _settle(default: float = 5.0) -> Entry:
    return Entry("settle_ms", float, low=0.5, high=50.0, default=default, help="How long a contact must keep still.")


def _address(default: int) -> Entry:
    return Entry("address", int, low=I2C_ADDRESSES[0], high=I2C_ADDRESSES[-1], default=default)


_VARIANT: Final = (
    Entry("title", str, low=1, high=60, required=True),
    Entry("interface", SOUND_INTERFACES, required=True),
    Entry("supply_ma", float, low=0.0, high=5000.0, default=250.0),
)

TABLE: Final = (
    Entry("title", str, low=1, high=60, default="a board"),
    Entry("variant", VARIANTS, default="A"),
    Section("keys", (*(_pin(key.value) for key in PanelKey), _settle()), required=True),
    Section("knob", (_pin("a"), _pin("b"), _pin("push"), _settle()), required=True),
    Section(
        "pedals",
        (
            *(_pin(pedal.value) for pedal in Pedal),
            _settle(10.0),
            Entry("pull_up_ohm", float, low=0.0, high=1e6, default=0.0, help="From the pin to 3.3 V; 0 is none."),
            Entry("series_ohm", float, low=0.0, high=1e6, default=0.0, help="From the pin to the tip; 0 is none."),
            Entry("filter_nf", float, low=0.0, high=1e5, default=0.0, help="From the pin to ground; 0 is none."),
        ),
        required=True,
    ),
    Section("power", (_pin("pin"), _settle(30.0)), required=True),
    Section(
        "led",
        (
            _pin("pin"),
            Entry("series_ohm", float, low=0.0, high=1e6, required=True),
            Entry("forward_volts", float, low=0.5, high=3.3, default=1.8),
        ),
        required=True,
    ),
    Section(
        "screen",
        (
            Entry("chip", CHIPS, required=True),
            Entry("interface", SCREEN_INTERFACES, default="i2c"),
            Entry("bus", I2C_BUSES, default=1),
            _address(0x3C),
            _pin("dc", 15),
            _pin("reset", 14),
            Entry("rotated", bool, default=False),
            Entry("supply_ma", float, low=0.0, high=1000.0, default=30.0),
        ),
        required=True,
    ),
    Section("clock", (Entry("fitted", bool, default=False), _address(0x68))),
    Section("serial", (Entry("console", bool, default=False),)),
    Section("sound", (Entry("loop_db", float, low=-80.0, high=20.0, default=-14.0),)),
    Section("variants", tuple(Section(name, _VARIANT, required=True) for name in VARIANTS), required=True),
)


def read_board(text: str, source: str, variant: str | None = None) -> Board:
    """A board from the text of its file; `variant` is the file's own unless one is named.

    Raises
    ------
    BadFileError
        If anything in it is wrong: a box with half its keys is worse than one that says what to mend. The first
        problem is named, and how many more there are.
    """
    board = board_as_written(text, source, variant)
    problem = first_problem(board, source)
    if problem is not None:
        raise problem
    return board


def board_as_written(text: str, source: str, variant: str | None = None) -> Board:
    """The same without the electrical checks; raises BadFileError."""
    checked = check(text, source, TABLE)
    if checked.problems:
        first, more = checked.problems[0], len(checked.problems) - 1
        also = f"{more} more in this file." if more else ""
        raise BadFileError(first.thing, first.value, first.allowed, " ".join(filter(None, (first.remedy, also))))
    return _board(checked.values, variant or checked.values["variant"])


def own_board(variant: str | None = None) -> Board:
    """The board that the project's own drawings describe."""
    return read_board(own_text(), FILE, variant)


def own_text() -> str:
    """The project's own board file."""
    return resources.files("hardware.board").joinpath(FILE).read_text(encoding="utf-8")


def _board(values: Mapping[str, Any], variant: str) -> Board:
    keys, knob, pedals, power, led, screen, clock = (
        values[name] for name in ("keys", "knob", "pedals", "power", "led", "screen", "clock")
    )
    sound = values["variants"][variant]
    return Board(
        title=values["title"],
        variant=Variant(variant, sound["title"], sound["interface"], sound["supply_ma"]),
        keys=Keys(tuple((key, keys[key.value]) for key in PanelKey), keys["settle_ms"] / 1000),
        knob=Knob(knob["a"], knob["b"], knob["push"], knob["settle_ms"] / 1000),
        pedals=Pedals(
            tuple((pedal, pedals[pedal.value]) for pedal in Pedal),
            settle=pedals["settle_ms"] / 1000,
            pull_up=pedals["pull_up_ohm"],
            series=pedals["series_ohm"],
            filter=pedals["filter_nf"] * 1e-9,
        ),
        power=PowerKey(power["pin"], power["settle_ms"] / 1000),
        led=StatusLed(led["pin"], led["series_ohm"], led["forward_volts"]),
        screen=ScreenPort(
            screen["chip"],
            screen["bus"],
            screen["address"],
            screen["interface"],
            screen["dc"],
            screen["reset"],
            rotated=screen["rotated"],
            supply_ma=screen["supply_ma"],
        ),
        clock=ClockPort(clock["fitted"], clock["address"]),
        serial_console=values["serial"]["console"],
        loop_db=values["sound"]["loop_db"],
    )
