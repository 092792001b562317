"""An OLED controller on an I2C bus, as a model of its memory: stands in for `smbus2.SMBus` under the real driver.

The commands are those of the SSD1306 (Solomon Systech, rev. 1.1, 2008) and of the SH1106 (Sino Wealth, v2.3), as far as
they move the memory or the picture; from memory of the two data sheets.
"""

from __future__ import annotations

import errno
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from firmware.screens.frame import HEIGHT, WIDTH, Frame

PAGES: Final = HEIGHT // 8

ARGUMENTS: Final[Mapping[int, int]] = {0x81: 1, 0xA8: 1, 0xAD: 1, 0xD3: 1, 0xD5: 1, 0xD9: 1, 0xDA: 1, 0xDB: 1}
"""Bytes that follow a command, where both chips agree; the others have none, unless their model says so."""


@dataclass(frozen=True, slots=True)
class Model:
    """What tells the chips apart: columns of memory, the first one on the glass, and further commands."""

    columns: int
    first: int
    windows: bool
    arguments: Mapping[int, int]


MODELS: Final[Mapping[str, Model]] = {
    "ssd1306": Model(128, 0, windows=True, arguments={**ARGUMENTS, 0x20: 1, 0x21: 2, 0x22: 2, 0x8D: 1}),
    "sh1106": Model(132, 2, windows=False, arguments=ARGUMENTS),
}


class SimulatedOledChip:
    """The chip and the bus that it hangs on.

    Parameters
    ----------
    model : str
        "ssd1306" or "sh1106".
    address : int
        Where it answers.
    """

    def __init__(self, model: str = "ssd1306", address: int = 0x3C) -> None:
        self.model = MODELS[model]
        self.address = address
        self.plugged = True
        """Clear it, and every transfer fails as on a loose cable."""
        self.sent = 0
        """Bytes that went over the bus, without the address."""
        self.breaks_after: int | None = None
        """Set it, and the wire breaks after so many more bytes: what came before has arrived; it stays broken."""
        self.reset()

    def reset(self) -> None:
        """Switch the power off and on: memory is noise, the glass is dark."""
        noise = np.random.default_rng(1106)
        self.memory = noise.integers(0, 256, (PAGES, self.model.columns), dtype=np.uint8)
        self.on = False
        self.contrast = 0x7F
        self.inverted = self.mirrored = self.flipped = False
        self.horizontal = False
        self.page = self.column = self.start_line = 0
        self.pending: tuple[int, ...] = ()
        self.window = (0, self.model.columns - 1, 0, PAGES - 1)

    # --- the bus, as luma uses smbus2 ---------------------------------------------------------------------------------

    def bus(self, port: int) -> SimulatedOledChip:
        """Open the bus; put in the place of `smbus2.SMBus`."""
        if port < 0:
            raise FileNotFoundError(errno.ENOENT, "no such bus", f"/dev/i2c-{port}")
        return self

    def write_i2c_block_data(self, address: int, register: int, data: Sequence[int]) -> None:
        """Take a short transfer."""
        self._transfer(address, bytes([register, *data]))

    def i2c_rdwr(self, *messages: Any) -> None:  # noqa: ANN401 - smbus2's message, a C structure
        """Take long transfers."""
        for message in messages:
            self._transfer(message.addr, bytes(message))

    def close(self) -> None:
        """Close the bus; the glass keeps what it shows."""

    def _transfer(self, address: int, data: bytes) -> None:
        if not self.plugged or address != self.address:
            raise OSError(errno.EREMOTEIO, "nobody answered")
        arrived = data if self.breaks_after is None else data[: self.breaks_after]
        self.sent += len(arrived)
        if arrived:
            self.take(arrived[0], arrived[1:])
        if len(arrived) < len(data):
            self.breaks_after = 0
            raise OSError(errno.EIO, "Input/output error")
        if self.breaks_after is not None:
            self.breaks_after -= len(arrived)

    def take(self, control: int, body: bytes) -> None:
        """Take pixels or commands, as the control byte says (on SPI, a line of its own)."""
        if control == 0x40:
            self._store(body)
        elif control == 0x00:
            self._obey(body)
        else:
            raise OSError(errno.EIO, f"control byte {control:#x}")

    # --- the chip ---------------------------------------------------------------------------------------------------

    def picture(self) -> Frame:
        """What a person sees on a module with its ribbon below, where both axes must be remapped."""
        if not self.on:
            return Frame()
        shown = self.memory[:, self.model.first : self.model.first + WIDTH]
        rows = np.unpackbits(shown[:, None, :], axis=1, bitorder="little").reshape(HEIGHT, WIDTH)
        rows = np.roll(rows, -self.start_line, axis=0)
        rows = rows if self.mirrored else rows[:, ::-1]
        rows = rows if self.flipped else rows[::-1]
        return Frame(np.packbits(rows ^ self.inverted).tobytes())

    def _obey(self, commands: bytes) -> None:
        # A command whose arguments did not arrive waits for them, whatever comes next.
        waiting = [*self.pending, *commands]
        while waiting:
            count = 1 + self.model.arguments.get(waiting[0], 0)
            if len(waiting) < count:
                break
            command, *values = waiting[:count]
            waiting = waiting[count:]
            self._do(command, values)
        self.pending = tuple(waiting)

    def _do(self, command: int, values: list[int]) -> None:
        ranges: tuple[tuple[range, Callable[[int], None]], ...] = (
            (range(0x10), self._low_column),
            (range(0x10, 0x20), self._high_column),
            (range(0x40, 0x80), self._line),
            (range(0xB0, 0xB8), self._page),
        )
        for span, act in ranges:
            if command in span:
                act(command - span.start)
        if command == 0x81:
            self.contrast = values[0]
        elif command in {0xA0, 0xA1}:
            self.mirrored = command == 0xA1
        elif command in {0xA6, 0xA7}:
            self.inverted = command == 0xA7
        elif command in {0xAE, 0xAF}:
            self.on = command == 0xAF
        elif command in {0xC0, 0xC8}:
            self.flipped = command == 0xC8
        elif self.model.windows:
            self._do_window(command, values)

    def _do_window(self, command: int, values: list[int]) -> None:
        left, right, top, bottom = self.window
        if command == 0x20:
            self.horizontal = values[0] == 0
        elif command == 0x21:
            self.window, self.column = (values[0], values[1], top, bottom), values[0]
        elif command == 0x22:
            self.window, self.page = (left, right, values[0], values[1]), values[0]

    def _low_column(self, value: int) -> None:
        self.column = (self.column & 0xF0) | value

    def _high_column(self, value: int) -> None:
        self.column = (self.column & 0x0F) | value << 4

    def _line(self, value: int) -> None:
        self.start_line = value

    def _page(self, value: int) -> None:
        self.page = value

    def _store(self, data: bytes) -> None:
        left, right, top, bottom = self.window
        for value in data:
            if self.column < self.model.columns:
                self.memory[self.page, self.column] = value
            self.column += 1
            if self.horizontal and self.column > right:
                self.column = left
                self.page = top if self.page >= bottom else self.page + 1
