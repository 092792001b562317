"""What makes a board unsafe or deaf, each rule a function of the board; the figures are in `hardware.board.limits`."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from firmware.errors import BadFileError
from hardware.board import limits
from hardware.board.header import GPIOS, I2C, I2S, ID_MEMORY, RESERVED, SERIAL, SPI
from hardware.board.parts import Board

Problem = tuple[str, object, str, str]
"""Thing, value, what is allowed, and the way out."""


def buses_of(board: Board) -> tuple[str, ...]:
    """The buses that a board uses, by their names in RESERVED. The ID memory is always there to be asked."""
    i2c = board.screen.interface == "i2c" or board.clock.fitted
    used = (
        (ID_MEMORY, True),
        (I2C, i2c),
        (I2S, board.sound == "i2s"),
        (SPI, board.screen.interface == "spi"),
        (SERIAL, board.serial_console),
    )
    return tuple(name for name, on in used if on)


def _pins_apart(board: Board) -> Iterator[Problem]:
    """No pin is used twice, and none that a bus in use needs."""
    owner = {pin: use for use in buses_of(board) for pin in RESERVED[use]}
    taken = owner.keys() | {used for _, used in board.all_pins}
    free = ", ".join(str(number) for number in GPIOS if number not in taken)
    for name, pin in board.all_pins:
        if pin in owner:
            yield f"pin of {name}", pin, f"{owner[pin]} is on it", f"Free: {free}."
        else:
            owner[pin] = name


def _addresses_apart(board: Board) -> Iterator[Problem]:
    """No two things answer at one address."""
    if board.clock.fitted and board.screen.interface == "i2c" and board.clock.address == board.screen.address:
        yield "address of the clock chip", hex(board.clock.address), "the screen is at it", "Set another one."


def _pulled_up(board: Board) -> Iterator[Problem]:
    """Where a wire leaves the box its pin has a pull-up of its own; the processor's is too weak against a long lead."""
    low, high = limits.OUTSIDE_PULL_OHM
    if not low <= board.pedals.pull_up <= high:
        allowed = f"a wire leaves the box, so {low:.0f} to {high:.0f} ohms to 3.3 V are needed"
        yield "pull-up of the pedals", f"{board.pedals.pull_up:g} ohms", allowed, "10 000 ohms is usual."


def _guarded(board: Board) -> Iterator[Problem]:
    """Where a wire leaves the box, a resistor stands between it and the pin."""
    least = limits.OUTSIDE_SERIES_OHM
    if board.pedals.series < least:
        allowed = f"a wire leaves the box, so at least {least:.0f} ohms must stand before the pin"
        yield "series resistor of the pedals", f"{board.pedals.series:g} ohms", allowed, "1000 ohms is usual."


def _reads_low(board: Board) -> Iterator[Problem]:
    """A closed pedal pulls its pin low for certain, against the pull-ups beside it and in the processor."""
    series, outside = board.pedals.series, board.pedals.pull_up
    if outside <= 0:
        return
    pull = 1 / (1 / outside + 1 / limits.PULL_OHM[0])
    volts = limits.VOLTS * series / (series + pull)
    if volts > limits.LOW_VOLTS:
        allowed = f"a closed pedal would leave {volts:.2f} V on its pin, and it reads low up to {limits.LOW_VOLTS} V"
        yield "series resistor of the pedals", f"{series:g} ohms", allowed, "Take less, or a weaker pull-up."


def _reads_high(board: Board) -> Iterator[Problem]:
    """An open pedal leaves its pin high for certain, whatever the input leaks."""
    if board.pedals.pull_up > 0:
        volts = limits.VOLTS - limits.LEAK_UA * 1e-6 * board.pedals.pull_up
        if volts < limits.HIGH_VOLTS:
            allowed = f"an open pedal would leave {volts:.2f} V, and its pin reads high from {limits.HIGH_VOLTS} V"
            yield "pull-up of the pedals", f"{board.pedals.pull_up:g} ohms", allowed, "Take less."


def _rises_in_time(board: Board) -> Iterator[Problem]:
    """The capacitor of a pedal is charged long before the contact counts as still."""
    rise = 3 * board.pedals.pull_up * board.pedals.filter
    if rise > board.pedals.settle:
        allowed = f"with its pull-up it takes {1000 * rise:.1f} ms to rise, longer than settle_ms"
        yield "capacitor of the pedals", f"{1e9 * board.pedals.filter:g} nF", allowed, "Take a smaller one."


def led_ma(board: Board) -> float:
    """Current of the LED in milliampere."""
    led = board.led
    return 1000.0 * max(0.0, limits.VOLTS - led.forward_volts) / max(led.series, 1e-3)


def pins_ma(board: Board) -> float:
    """Current through all pins of our own at most: LED lit, every contact closed."""
    contacts = len(board.contacts)
    outside = len(board.pedals.pins) * limits.VOLTS / max(board.pedals.series + board.pedals.pull_up, 1.0)
    return led_ma(board) + 1000.0 * (contacts * limits.VOLTS / limits.PULL_OHM[0] + outside)


def rail_ma(board: Board) -> float:
    """Current from the 3.3 V places of the header at most."""
    pull_ups = len(board.pedals.pins) * limits.VOLTS / max(board.pedals.series + board.pedals.pull_up, 1.0)
    i2c = 2 * limits.VOLTS / limits.I2C_PULL_OHM if I2C in buses_of(board) else 0.0
    clock = limits.CLOCK_MA if board.clock.fitted else 0.0
    return board.screen.supply_ma + clock + 1000.0 * (pull_ups + i2c)


def supply_ma(board: Board) -> float:
    """Current from the supply at most: the Pi itself, its 3.3 V, sound and stick."""
    return limits.BARE_MA + rail_ma(board) + led_ma(board) + board.variant.supply_ma + limits.STICK_MA


def _currents(board: Board) -> Iterator[Problem]:
    """No pin, no rail and no supply is asked for more than it can give."""
    asked = (
        ("current of the LED", led_ma(board), limits.PIN_MA, "one pin", "Take a greater resistor."),
        ("current of all pins", pins_ma(board), limits.ALL_PINS_MA, "all pins", "Take greater resistors."),
        ("current from 3.3 V", rail_ma(board), limits.RAIL_3_MA, "the header", "Feed the screen from elsewhere."),
        (
            "current of sound and stick",
            board.variant.supply_ma + limits.STICK_MA,
            limits.USB_MA,
            "USB",
            "Use a hub with a supply of its own.",
        ),
        ("current of everything", supply_ma(board), limits.SUPPLY_MA, "the supply", "Use a hub with its own supply."),
    )
    for thing, amount, most, of, remedy in asked:
        if amount > most:
            yield thing, f"{amount:.1f} mA", f"{of} can bear {most:g} mA", remedy


CHECKS: Final[tuple[Callable[[Board], Iterator[Problem]], ...]] = (
    _pins_apart,
    _addresses_apart,
    _pulled_up,
    _guarded,
    _reads_low,
    _reads_high,
    _rises_in_time,
    _currents,
)


def problems_of(board: Board) -> tuple[Problem, ...]:
    """Everything that is wrong with a board."""
    return tuple(problem for rule in CHECKS for problem in rule(board))


def first_problem(board: Board, source: str) -> BadFileError | None:
    """The first thing that is wrong as an error that says how many more there are; None for a good board."""
    found = problems_of(board)
    if not found:
        return None
    thing, value, allowed, remedy = found[0]
    also = f"{len(found) - 1} more in this file." if len(found) > 1 else ""
    return BadFileError(f"{source}: {thing}", value, allowed, " ".join(filter(None, (remedy, also))))
