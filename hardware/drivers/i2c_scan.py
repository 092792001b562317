"""Who answers on an I2C bus."""

from __future__ import annotations

import errno
from collections.abc import Callable
from typing import Any, Final, Protocol

from hardware.board.limits import I2C_ADDRESSES

HELD: Final = frozenset({errno.EBUSY})
"""A driver of the kernel holds the address, as that of a clock chip does: so somebody is there."""


class Bus(Protocol):
    """The part of smbus2 that is needed."""

    def read_byte(self, i2c_addr: int) -> int:
        """Read a byte; raises OSError when nobody answers."""

    def close(self) -> None:
        """Let the bus go."""


def smbus(number: int) -> Any:  # noqa: ANN401 - smbus2 ships no types
    """Open a bus of this machine; raises OSError when there is none."""
    try:
        from smbus2 import SMBus  # noqa: PLC0415 - comes with luma, on the box alone
    except ImportError as error:
        raise OSError(errno.ENOENT, f"smbus2 must be installed ({error})") from error
    return SMBus(number)


def scan(number: int, open_bus: Callable[[int], Bus] = smbus) -> tuple[int, ...]:
    """Addresses that answer a read; raises OSError when there is no such bus."""
    bus = open_bus(number)
    try:
        return tuple(address for address in I2C_ADDRESSES if _answers(bus, address))
    finally:
        bus.close()


def _answers(bus: Bus, address: int) -> bool:
    try:
        bus.read_byte(address)
    except OSError as error:
        return error.errno in HELD
    return True
