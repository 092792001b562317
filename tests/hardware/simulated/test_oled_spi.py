"""The SPI bus takes bytes for commands or pixels as the line says, and is strict about being open."""

from __future__ import annotations

import pytest

from hardware.simulated.oled_chip import SimulatedOledChip
from hardware.simulated.oled_spi import SimulatedSpi


def test_the_line_says_what_bytes_are() -> None:
    high = [False]
    chip = SimulatedOledChip()
    bus = SimulatedSpi(chip, lambda: high[0])
    with pytest.raises(OSError, match="Bad file"):
        bus.writebytes([0xAF])
    bus.open(0, 0)
    bus.writebytes([0xAF])
    assert chip.on
    high[0] = True
    bus.writebytes([0xAE])
    assert chip.on
    assert chip.memory[0, 0] == 0xAE
    chip.plugged = False
    bus.writebytes([0x11])  # nobody can tell
    assert chip.memory[0, 1] != 0x11
    bus.close()
    assert bus.closed


def test_a_bus_that_is_not_there_can_t_be_opened() -> None:
    bus = SimulatedSpi(SimulatedOledChip(), lambda: True)
    with pytest.raises(FileNotFoundError):
        bus.open(1, 0)
    bus.there = False
    with pytest.raises(FileNotFoundError):
        bus().open(0, 0)
