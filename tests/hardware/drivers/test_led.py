"""What only the real light meets: no pins, and a pin that is taken."""

from __future__ import annotations

from gpiozero import LED
from gpiozero.pins.mock import MockFactory

from firmware.errors import DeviceError
from firmware.lamp import Lamp
from hardware.board.table import own_board
from hardware.drivers.led import GpioLed
from hardware.drivers.pin_factory import SharedPins

BOARD = own_board()


def test_a_box_without_pins_has_no_light_and_goes_on() -> None:
    def none() -> MockFactory:
        raise DeviceError("pins", "of this machine", "a Raspberry Pi is needed")

    light = GpioLed(BOARD, SharedPins(none))
    light.start()
    light.show(Lamp.TROUBLE)
    assert "Raspberry Pi" in light.trouble
    light.stop()


def test_a_pin_that_is_taken_is_said_and_tried_again_at_the_next_start() -> None:
    factory = MockFactory()
    light = GpioLed(BOARD, SharedPins(lambda: factory))
    with LED(BOARD.led.pin, pin_factory=factory):
        light.start()
        assert light.trouble.startswith("status light")
    light.start()
    assert light.trouble == ""
    light.show(Lamp.READY)
    assert factory.pin(BOARD.led.pin).state
    light.stop()
