"""The net list of a board: which terminals of which parts are joined."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from hardware.board.header import GROUNDS, HEADER, I2S_PINS, SCL_PIN, SDA_PIN, SPI_PINS, VOLTS_3, VOLTS_5
from hardware.board.parts import Board

GROUND: Final = "ground"
RAIL_3: Final = "3.3 V"
RAIL_5: Final = "5 V"


@dataclass(frozen=True, slots=True)
class Part:
    """A part on the board: its mark in the picture, what it is, its value, and the names of its terminals."""

    mark: str
    name: str
    value: str
    terminals: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Terminal:
    """One terminal of a part; those of the header are its places."""

    part: str
    name: str

    def __str__(self) -> str:
        """The terminal as the tables have it: "S1.1"."""
        return f"{self.part}.{self.name}"


@dataclass(frozen=True, slots=True)
class Net:
    """Terminals that are joined."""

    name: str
    terminals: tuple[Terminal, ...]


HEADER_MARK: Final = "H1"
KNOB: Final = "K1"
SCREEN: Final = "U1"
CLOCK: Final = "U2"
DAC: Final = "U3"
LED: Final = "D1"


def ohms(value: float) -> str:
    """A resistance as it is written in parts lists: "680 ohm", "10 kilohm"."""
    return f"{value / 1000:g} kilohm" if value >= 1000 else f"{value:g} ohm"


def parts_of(board: Board) -> tuple[Part, ...]:
    """Every part with its mark, in the order of the marks."""
    return tuple(_parts(board))


def _parts(board: Board) -> Iterator[Part]:
    yield Part(HEADER_MARK, "header of the Raspberry Pi", "40-way", tuple(str(place) for place in range(1, 41)))
    for number, (key, _) in enumerate(board.keys.pins, start=1):
        yield Part(f"S{number}", f"key {key}", "normally open", ("1", "2"))
    yield Part(f"S{len(board.keys.pins) + 1}", "power key", "normally open", ("1", "2"))
    yield Part(KNOB, "knob", "EC11-type encoder with push", ("A", "B", "C", "push 1", "push 2"))
    for number, (pedal, _) in enumerate(board.pedals.pins, start=1):
        yield Part(f"J{number}", f"{pedal} pedal jack", "6.35 mm, two-pole", ("tip", "sleeve"))
        yield Part(f"R{2 * number - 1}", f"in series, {pedal} pedal", ohms(board.pedals.series), ("1", "2"))
        yield Part(f"R{2 * number}", f"pull-up, {pedal} pedal", ohms(board.pedals.pull_up), ("1", "2"))
        yield Part(f"C{number}", f"filter, {pedal} pedal", f"{1e9 * board.pedals.filter:g} nF", ("1", "2"))
    yield Part("R5", "in series, LED", ohms(board.led.series), ("1", "2"))
    yield Part(LED, "status LED", "red, 3 or 5 mm", ("anode", "cathode"))
    i2c = board.screen.interface == "i2c"
    wires = ("SDA", "SCL") if i2c else (*(name for name, _ in SPI_PINS), "DC", "RES")
    yield Part(SCREEN, "screen", f"128 x 64 OLED, {board.screen.chip.upper()}", ("GND", "VCC", *wires))
    if board.clock.fitted:
        yield Part(CLOCK, "clock chip", f"on I2C at {board.clock.address:#x}", ("GND", "VCC", "SDA", "SCL"))
    if board.sound == "i2s":
        yield Part(DAC, "DAC", "I2S, fed from 5 V, 3.3 V logic", ("GND", "5 V", *(name for name, _ in I2S_PINS)))


def nets_of(board: Board) -> tuple[Net, ...]:
    """Every net; each terminal of each part is in one of them, and each used place of the header."""
    places = {GROUND: GROUNDS, RAIL_3: VOLTS_3, RAIL_5: VOLTS_5}
    joined: dict[str, list[Terminal]] = {
        name: [Terminal(HEADER_MARK, str(place)) for place in found] for name, found in places.items()
    }
    for name, terminal in _wires(board):
        joined.setdefault(name, []).append(terminal)
    return tuple(Net(name, tuple(found)) for name, found in joined.items())


def _at(pin: int) -> Terminal:
    return Terminal(HEADER_MARK, str(HEADER[pin]))


def _wires(board: Board) -> Iterator[tuple[str, Terminal]]:
    yield from _contacts(board)
    yield from _pedals(board)
    yield "LED", _at(board.led.pin)
    yield "LED", Terminal("R5", "1")
    yield "LED anode", Terminal("R5", "2")
    yield "LED anode", Terminal(LED, "anode")
    yield GROUND, Terminal(LED, "cathode")
    yield from _screen(board)
    yield from _clock(board)
    yield from _dac(board)


def _contacts(board: Board) -> Iterator[tuple[str, Terminal]]:
    keys = [(f"S{number}", f"key {key}", pin) for number, (key, pin) in enumerate(board.keys.pins, start=1)]
    keys.append((f"S{len(keys) + 1}", "power key", board.power.pin))
    for mark, name, pin in keys:
        yield name, _at(pin)
        yield name, Terminal(mark, "1")
        yield GROUND, Terminal(mark, "2")
    knob = board.knob
    for terminal, name, pin in (("A", "knob a", knob.a), ("B", "knob b", knob.b), ("push 1", "knob push", knob.push)):
        yield name, _at(pin)
        yield name, Terminal(KNOB, terminal)
    yield GROUND, Terminal(KNOB, "C")
    yield GROUND, Terminal(KNOB, "push 2")


def _pedals(board: Board) -> Iterator[tuple[str, Terminal]]:
    for number, (pedal, pin) in enumerate(board.pedals.pins, start=1):
        series, pull_up, filter_ = f"R{2 * number - 1}", f"R{2 * number}", f"C{number}"
        name, tip = f"{pedal} pedal", f"{pedal} tip"
        yield name, _at(pin)
        for part in (series, pull_up, filter_):
            yield name, Terminal(part, "1")
        yield tip, Terminal(series, "2")
        yield tip, Terminal(f"J{number}", "tip")
        yield RAIL_3, Terminal(pull_up, "2")
        yield GROUND, Terminal(filter_, "2")
        yield GROUND, Terminal(f"J{number}", "sleeve")


def _screen(board: Board) -> Iterator[tuple[str, Terminal]]:
    yield RAIL_3, Terminal(SCREEN, "VCC")
    yield GROUND, Terminal(SCREEN, "GND")
    if board.screen.interface == "i2c":
        wires: tuple[tuple[str, int], ...] = (("SDA", SDA_PIN), ("SCL", SCL_PIN))
    else:
        wires = (*SPI_PINS, ("DC", board.screen.dc), ("RES", board.screen.reset))
    for name, pin in wires:
        net = name if board.screen.interface == "i2c" else f"screen {name}"
        yield net, _at(pin)
        yield net, Terminal(SCREEN, name)


def _clock(board: Board) -> Iterator[tuple[str, Terminal]]:
    if not board.clock.fitted:
        return
    yield RAIL_3, Terminal(CLOCK, "VCC")
    yield GROUND, Terminal(CLOCK, "GND")
    for name, pin in (("SDA", SDA_PIN), ("SCL", SCL_PIN)):
        if board.screen.interface != "i2c":
            yield name, _at(pin)
        yield name, Terminal(CLOCK, name)


def _dac(board: Board) -> Iterator[tuple[str, Terminal]]:
    if board.sound != "i2s":
        return
    yield RAIL_5, Terminal(DAC, "5 V")
    yield GROUND, Terminal(DAC, "GND")
    for name, pin in I2S_PINS:
        yield f"DAC {name}", _at(pin)
        yield f"DAC {name}", Terminal(DAC, name)
