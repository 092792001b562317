"""The first pin library that works is taken; when none does, the error says why not for each."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from gpiozero.pins.mock import MockFactory

from firmware.errors import DeviceError
from hardware.drivers.pin_factory import CHOICES, lgpio, pin_factory


def broken() -> MockFactory:
    message = "not on this machine"
    raise RuntimeError(message)


def test_the_first_that_works_is_taken() -> None:
    first, second = MockFactory(), MockFactory()
    assert pin_factory((("one", lambda: first), ("two", lambda: second))) is first
    assert pin_factory((("one", broken), ("two", lambda: second))) is second


def test_rpi_gpio_is_tried_before_lgpio() -> None:
    assert [name for name, _ in CHOICES] == ["RPi.GPIO", "lgpio"]


def test_when_none_works_each_reason_is_told() -> None:
    with pytest.raises(DeviceError, match=r"one: not on this machine; two: not on this machine"):
        pin_factory((("one", broken), ("two", broken)))


@pytest.mark.skipif(Path("/dev/gpiochip0").exists(), reason="this machine has pins")
def test_a_computer_without_pins_is_told_so() -> None:
    with pytest.raises(DeviceError, match=r"RPi\.GPIO: .*lgpio: "):
        pin_factory()


def test_lgpio_may_write_its_fifo_only_outside_the_working_directory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("LG_WD", raising=False)
    monkeypatch.setitem(sys.modules, "lgpio", None)
    with pytest.raises(ImportError):
        lgpio()
    assert Path(os.environ["LG_WD"]).is_dir()
    monkeypatch.delenv("LG_WD")
