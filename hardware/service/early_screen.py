"""What the initial RAM disk sends to the OLED, long before Python runs there: the first picture, byte for byte.

The image's build runs this file, in the image's own system, and keeps what it prints in the initial RAM disk. The bytes
are those of the real driver: it speaks to a wire that writes down what it would send.

    python3 -m hardware.service.early_screen
"""

from __future__ import annotations

import sys
from typing import Final

from firmware.screens.frame import Frame
from firmware.screens.welcome import welcome
from hardware.board.table import ScreenPort, own_board
from hardware.drivers.oled import BRIGHTNESS

COMMAND: Final = 0x00
PIXELS: Final = 0x40
"""First byte of a transfer: what the others are. From memory of the data sheets of both chips."""


class WrittenWire:
    """A wire that writes down each transfer; keeps what luma asks of one."""

    def __init__(self) -> None:
        self.transfers: list[bytes] = []

    def command(self, *values: int) -> None:
        """Note commands."""
        self.transfers.append(bytes([COMMAND, *values]))

    def data(self, values: list[int]) -> None:
        """Note pixels."""
        self.transfers.append(bytes([PIXELS, *values]))

    def cleanup(self) -> None:
        """Nothing to let go."""


def transfers(port: ScreenPort, frame: Frame) -> tuple[bytes, ...]:
    """All that brings a picture onto a panel that has just got its power; nothing for one that is not on I2C."""
    if port.interface != "i2c":
        return ()
    from hardware.drivers.oled_chip import CHIPS, columns_of, rotated  # noqa: PLC0415 - luma is only there on the box

    wire = WrittenWire()
    chip = CHIPS[port.chip](wire)
    chip.persist = True
    chip.contrast(BRIGHTNESS[2])
    chip.send(columns_of(rotated(frame.bits) if port.rotated else frame.bits))
    return tuple(wire.transfers)


def lines(port: ScreenPort, frame: Frame) -> tuple[str, ...]:
    """The bus, then a line for each transfer, in the words of i2ctransfer(8); nothing for a panel not on I2C."""
    found = transfers(port, frame)
    words = [f"w{len(data)}@{port.address:#04x} {' '.join(f'{byte:#04x}' for byte in data)}" for data in found]
    return (str(port.bus), *words) if words else ()


def main() -> int:
    """Print them for our own board."""
    sys.stdout.writelines(f"{line}\n" for line in lines(own_board().screen, welcome()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
