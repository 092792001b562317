"""The two OLED controllers, set up by luma; imported only when a panel is opened, since luma comes with the box.

luma draws a picture pixel by pixel in Python, and by a call that Pillow 14 drops. Its `display` is replaced here by
one that packs the picture with numpy: measured without a wire, 15 (SSD1306) and 6 times (SH1106) faster, time in which
the interpreter would have been kept from the sound callback.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from luma.core.error import Error as LumaError
from luma.oled.device import sh1106, ssd1306

from firmware.errors import DeviceError
from firmware.screens.frame import HEIGHT, WIDTH, Frame
from hardware.board.table import ScreenPort
from hardware.drivers.oled_bus import Wire
from hardware.drivers.pin_factory import SharedPins

if TYPE_CHECKING:
    from PIL.Image import Image

NOTHING: Final = 0xE3
"""The command that does nothing; whoever answers it is there."""

PENDING: Final = 2
"""Arguments that a chip may still wait for, if its wire broke in the middle of a command: as many as one has."""

OFF: Final = 0xAE
ON: Final = 0xAF

FIRST_COLUMN: Final = 2
"""Of the SH1106's 132 columns, the first on the glass; older lumas have no name for it."""

FAULTS: Final = (OSError, LumaError)
"""What luma lets through when a panel does not answer: its own error on commands, a bare OSError on data."""


def columns_of(bits: bytes) -> bytes:
    """A picture in the order of the chips: eight pages of 128 columns, in each column the top pixel in the lowest bit.

    Parameters
    ----------
    bits : bytes
        128 x 64 pixels row by row, the leftmost in the highest bit, as in a Frame and in Pillow's mode "1".
    """
    rows = np.unpackbits(np.frombuffer(bits, dtype=np.uint8)).reshape(HEIGHT // 8, 8, WIDTH)
    return np.packbits(rows, axis=1, bitorder="little").tobytes()


def rotated(bits: bytes) -> bytes:
    """A picture turned by 180 degrees: its last pixel is the first.

    Parameters
    ----------
    bits : bytes
        As in a Frame.
    """
    return np.packbits(np.unpackbits(np.frombuffer(bits, dtype=np.uint8))[::-1]).tobytes()


class FastSsd1306(ssd1306):  # type: ignore[misc]  # luma has no types
    """SSD1306: one window over the whole glass, then all of it in one transfer."""

    def display(self, image: Image) -> None:
        """Send a picture in Pillow's mode "1"."""
        self.send(columns_of(image.tobytes()))

    def send(self, columns: bytes) -> None:
        """Send a picture in the order of the chip."""
        self.command(self._const.COLUMNADDR, 0, WIDTH - 1, self._const.PAGEADDR, 0, HEIGHT // 8 - 1)
        self.data(list(columns))


class FastSh1106(sh1106):  # type: ignore[misc]  # luma has no types
    """SH1106: knows no window, so each page is addressed; the glass begins at column 2 of its 132."""

    def display(self, image: Image) -> None:
        """Send a picture in Pillow's mode "1"."""
        self.send(columns_of(image.tobytes()))

    def send(self, columns: bytes) -> None:
        """Send a picture in the order of the chip."""
        for page in range(HEIGHT // 8):
            self.command(0xB0 + page, FIRST_COLUMN, 0x10)
            self.data(list(columns[page * WIDTH : (page + 1) * WIDTH]))


CHIPS: Final[Mapping[str, Callable[[Any], Any]]] = {"ssd1306": FastSsd1306, "sh1106": FastSh1106}
"""Each takes a wire: what has `command`, `data` and `cleanup`, for luma asks no more of one."""


class OledPanel:
    """An OLED that answers. On SPI nobody can answer: there a panel counts as there while its bus is.

    Parameters
    ----------
    port
        Which chip on which bus, and which way up.
    pins
        For SPI.

    Raises
    ------
    DeviceError
        From every method, when the panel does not answer.
    """

    def __init__(self, port: ScreenPort, pins: SharedPins | None = None) -> None:
        on_i2c = port.interface == "i2c"
        self._where = f"at {port.address:#x} of I2C bus {port.bus}" if on_i2c else "on the SPI bus"
        self._turned = port.rotated
        try:
            self._wire = Wire(port, pins or SharedPins())
        except FAULTS as error:
            raise self._dead(error) from error
        try:
            # Asked before luma sets it up, for luma keeps every chip that it sets up until the program ends.
            self._wire.command(*[NOTHING] * PENDING)
            self._wire.forget()
            self._chip = CHIPS[port.chip](self._wire)
        except FAULTS as error:
            self._wire.cleanup()
            raise self._dead(error) from error
        self._chip.persist = True

    def write(self, frame: Frame) -> None:
        """Put a picture on the glass."""
        try:
            self._chip.send(columns_of(rotated(frame.bits) if self._turned else frame.bits))
        except FAULTS as error:
            raise self._dead(error) from error

    def contrast(self, level: int) -> None:
        """Set the brightness, 0 to 255."""
        try:
            self._chip.contrast(level)
        except FAULTS as error:
            raise self._dead(error) from error

    def renew(self) -> None:
        """Set the chip up again, unseen: all that luma sent at first but to go dark."""
        first = self._wire.first
        try:
            self._wire.command(*[NOTHING] * PENDING)
            self._wire.command(*(first[1:] if first[:1] == (OFF,) else ()), ON)
        except FAULTS as error:
            raise self._dead(error) from error

    def close(self) -> None:
        """Let the bus go; the glass keeps its picture."""
        self._wire.cleanup()

    def _dead(self, error: Exception) -> DeviceError:
        return DeviceError("screen", self._where, f"it must answer ({error})", "Check its wires.")
