"""Who answers on a bus."""

from __future__ import annotations

import errno

import pytest

from hardware.drivers.i2c_scan import scan


class Bus:
    """A bus with some devices; `held` are those that a driver of the kernel has."""

    def __init__(self, there: set[int], held: set[int] = frozenset()) -> None:
        self.there, self.held, self.closed = there, held, False

    def read_byte(self, address: int) -> int:
        if address in self.held:
            raise OSError(errno.EBUSY, "busy")
        if address not in self.there:
            raise OSError(errno.EREMOTEIO, "nobody")
        return 0

    def close(self) -> None:
        self.closed = True


def test_those_that_answer_are_told_and_those_that_the_kernel_holds() -> None:
    bus = Bus({0x3C, 0x03}, {0x68})
    assert scan(1, lambda _number: bus) == (0x3C, 0x68)
    assert bus.closed


def test_a_bus_that_is_not_there_is_an_error() -> None:
    with pytest.raises(OSError, match="i2c"):
        scan(77)
