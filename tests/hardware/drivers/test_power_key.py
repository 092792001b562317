"""What only the real power key meets: a jammed key, a pin that is taken."""

from __future__ import annotations

import time

import pytest
from gpiozero import LED
from gpiozero.pins.mock import MockFactory

from firmware.errors import DeviceError
from hardware.board.table import own_board
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.power_key import GpioPowerKey

BOARD = own_board()


class StartsLow(MockFactory):
    def pin(self, name: int, pin_class: object = None, **more: object) -> object:
        made = super().pin(name, pin_class, **more)
        if made._when_changed is None:
            made._set_pull = lambda _: made.drive_low()
        return made


def test_a_key_that_is_jammed_at_the_start_does_not_switch_the_box_off() -> None:
    factory, calls = StartsLow(), []
    key = GpioPowerKey(BOARD, SharedPins(lambda: factory), hold=0.02)
    key.start(lambda: calls.append(True))
    time.sleep(0.15)
    assert calls == []
    pin = factory.pin(BOARD.power.pin)
    pin.drive_high()
    time.sleep(0.5)
    pin.drive_low()
    deadline = time.monotonic() + 5.0
    while not calls and time.monotonic() < deadline:
        time.sleep(0.01)
    assert calls == [True]
    key.stop()


def test_a_pin_that_is_taken_is_said_and_let_be() -> None:
    factory = MockFactory()
    pins = SharedPins(lambda: factory)
    key = GpioPowerKey(BOARD, pins)
    with LED(BOARD.power.pin, pin_factory=factory), pytest.raises(DeviceError, match="power key"):
        key.start(bool)
    key.stop()
    with pytest.raises(DeviceError, match="Raspberry"):
        GpioPowerKey(BOARD, SharedPins(_none)).start(bool)


def _none() -> MockFactory:
    raise DeviceError("pins", "of this machine", "a Raspberry Pi is needed")
