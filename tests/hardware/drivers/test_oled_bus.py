"""The wire to the OLED: what luma asks of pins, and what is let go."""

from __future__ import annotations

import sys
from types import SimpleNamespace

import pytest
import smbus2
from gpiozero.pins.mock import MockFactory

from firmware.errors import DeviceError
from firmware.screens.frame import Frame
from hardware.board.table import ScreenPort
from hardware.drivers.oled import open_oled
from hardware.drivers.oled_bus import LumaPins, Wire
from hardware.drivers.pin_factory import SharedPins
from hardware.simulated.oled_chip import SimulatedOledChip
from hardware.simulated.oled_spi import SimulatedSpi

PORT = ScreenPort("sh1106", 1, 0x3C, interface="spi", dc=15, reset=14)


def test_pins_are_outputs_until_they_are_let_go() -> None:
    factory = MockFactory()
    pins = LumaPins(factory)
    for value in (pins.LOW, pins.HIGH):
        pins.setup(15, pins.OUT)
        pins.output(15, value)
        assert factory.pin(15).state == bool(value)
    assert factory.pin(15).function == "output"
    pins.close()
    assert factory.pin(15).function == "input"


def test_a_panel_on_spi_is_reset_and_shows_its_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    factory, chip = MockFactory(), SimulatedOledChip("sh1106")
    bus = SimulatedSpi(chip, lambda: factory.pin(PORT.dc).state)
    monkeypatch.setitem(sys.modules, "spidev", SimpleNamespace(SpiDev=bus))
    glass = open_oled(PORT, SharedPins(lambda: factory))
    states = [one.state for one in factory.pin(PORT.reset).states]
    assert states[-2:] == [False, True]
    assert bus.max_speed_hz == 8_000_000
    glass.write(Frame(b"\x81" * 1024))
    assert chip.picture() == Frame(b"\x81" * 1024)
    glass.close()
    assert bus.closed


def test_a_bus_that_is_switched_off_is_said_and_the_pins_are_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    factory, chip = MockFactory(), SimulatedOledChip("sh1106")
    bus = SimulatedSpi(chip, lambda: True)
    bus.there = False
    monkeypatch.setitem(sys.modules, "spidev", SimpleNamespace(SpiDev=bus))
    with pytest.raises(DeviceError, match="SPI"):
        open_oled(PORT, SharedPins(lambda: factory))
    assert factory.pin(PORT.dc).function == "input"


def test_a_machine_without_pins_has_no_panel_on_spi() -> None:
    def none() -> MockFactory:
        raise DeviceError("pins", "of this machine", "a Raspberry Pi is needed")

    with pytest.raises(DeviceError, match="Raspberry"):
        open_oled(PORT, SharedPins(none))


def test_the_first_command_is_remembered_until_it_is_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(smbus2, "SMBus", SimulatedOledChip().bus)
    wire = Wire(ScreenPort("ssd1306", 1, 0x3C), SharedPins())
    wire.command(0xE3)
    wire.command(0xA7)
    assert wire.first == (0xE3,)
    wire.forget()
    wire.command(0xA6)
    assert wire.first == (0xA6,)
    wire.cleanup()
