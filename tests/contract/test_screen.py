"""What every screen keeps: the simulated one, and the real driver over luma on a model of either chip's memory."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from types import SimpleNamespace

import numpy as np
import pytest
import smbus2
from gpiozero.pins.mock import MockFactory

from firmware.screens.frame import Frame
from hardware.board.table import ScreenPort
from hardware.drivers.oled import OledScreen, open_oled
from hardware.drivers.pin_factory import SharedPins
from hardware.simulated.oled_chip import SimulatedOledChip
from hardware.simulated.oled_spi import SimulatedSpi
from hardware.simulated.screen import SimulatedScreen


def noise(seed: int) -> Frame:
    return Frame(np.random.default_rng(seed).bytes(1024))


class Simulated:
    """The simulated screen and a look at its glass."""

    def __init__(self) -> None:
        self.screen = SimulatedScreen()

    def glass(self) -> Frame:
        return self.screen.last_frame

    def done(self) -> bool:
        return True

    def die(self) -> None:
        self.screen.dead = True

    def stop(self) -> None:
        pass


class Real:
    """The real driver and a look at the memory of the chip."""

    def __init__(self, port: ScreenPort, monkeypatch: pytest.MonkeyPatch) -> None:
        self.chip = SimulatedOledChip(port.chip)
        self.turned = port.rotated
        factory = MockFactory()
        monkeypatch.setattr(smbus2, "SMBus", self.chip.bus)
        self.spi = SimulatedSpi(self.chip, lambda: factory.pin(port.dc).state)
        monkeypatch.setitem(sys.modules, "spidev", SimpleNamespace(SpiDev=self.spi))
        self.screen = OledScreen(lambda: open_oled(port, SharedPins(lambda: factory)), retry=0.01)
        self.screen.start()

    def glass(self) -> Frame:
        seen = np.unpackbits(np.frombuffer(self.chip.picture().bits, dtype=np.uint8))
        return Frame(np.packbits(seen[::-1] if self.turned else seen).tobytes())

    def done(self) -> bool:
        return self.screen.flush(5.0)

    def die(self) -> None:
        self.chip.plugged = False

    def stop(self) -> None:
        self.screen.stop()


PORTS = {
    "ssd1306": ScreenPort("ssd1306", 1, 0x3C),
    "sh1106": ScreenPort("sh1106", 1, 0x3C),
    "ssd1306 upside down": ScreenPort("ssd1306", 1, 0x3C, rotated=True),
    "sh1106 upside down": ScreenPort("sh1106", 1, 0x3C, rotated=True),
    "ssd1306 by SPI": ScreenPort("ssd1306", 1, 0x3C, interface="spi"),
    "sh1106 by SPI": ScreenPort("sh1106", 1, 0x3C, interface="spi"),
}


@pytest.fixture(params=["simulated", *PORTS])
def eye(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[Simulated | Real]:
    """A screen of each kind, and what a person sees on it."""
    made = Simulated() if request.param == "simulated" else Real(PORTS[request.param], monkeypatch)
    yield made
    made.stop()


def test_the_glass_is_dark_at_first(eye: Simulated | Real) -> None:
    assert eye.done()
    assert eye.glass() == Frame()


def test_fifty_pictures_come_out_as_they_went_in(eye: Simulated | Real) -> None:
    for seed in range(50):
        eye.screen.show(noise(seed))
        assert eye.done()
        assert eye.glass() == noise(seed)


def test_single_pixels_stand_where_they_should(eye: Simulated | Real) -> None:
    for x, y in ((0, 0), (127, 0), (0, 63), (127, 63), (5, 17)):
        bits = bytearray(1024)
        bits[(y * 128 + x) // 8] = 0x80 >> (x % 8)
        eye.screen.show(Frame(bytes(bits)))
        assert eye.done()
        assert [(column, row) for row in range(64) for column in range(128) if eye.glass().lit(column, row)] == [(x, y)]


def test_an_equal_picture_is_skipped(eye: Simulated | Real) -> None:
    eye.screen.show(noise(1))
    assert eye.done()
    shown = eye.screen.shown
    for _ in range(5):
        eye.screen.show(Frame(bytes(noise(1).bits)))
    assert eye.done()
    assert (eye.screen.shown, eye.screen.skipped) == (shown, 5)


def test_the_last_of_many_is_what_stays(eye: Simulated | Real) -> None:
    for seed in range(200):
        eye.screen.show(noise(seed))
    assert eye.done()
    assert eye.glass() == noise(199)


def test_a_dead_panel_never_raises(eye: Simulated | Real) -> None:
    eye.screen.show(noise(1))
    assert eye.done()
    eye.die()
    for seed in range(20):
        eye.screen.show(noise(seed))
