"""What every status light keeps: the simulated one, and the real driver on a mock pin."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import pytest
from gpiozero.pins.mock import MockFactory

from firmware.lamp import Lamp
from firmware.ports import StatusLight
from hardware.board.table import own_board
from hardware.drivers.led import RHYTHMS, GpioLed
from hardware.drivers.pin_factory import SharedPins
from hardware.simulated.led import SimulatedLed

BOARD = own_board()


class Seen:
    """A light, and what an eye sees of it for a while."""

    def __init__(self, light: StatusLight, watch: Callable[[float], set[bool]]) -> None:
        self.light = light
        self.watch = watch


def simulated() -> Seen:
    light = SimulatedLed()
    return Seen(light, lambda seconds: {light.lit_at(step * seconds / 50) for step in range(50)})


def on_a_pin() -> Seen:
    factory = MockFactory()
    light = GpioLed(BOARD, SharedPins(lambda: factory))

    def watch(seconds: float) -> set[bool]:
        seen = set()
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            pin = factory.pin(BOARD.led.pin)
            seen.add(pin.function == "output" and bool(pin.state))
            time.sleep(0.004)
        return seen

    return Seen(light, watch)


@pytest.fixture(params=[simulated, on_a_pin])
def seen(request: pytest.FixtureRequest) -> Iterator[Seen]:
    made = request.param()
    yield made
    made.light.stop()


def test_it_is_dark_before_the_start_and_after_the_end(seen: Seen) -> None:
    seen.light.show(Lamp.READY)
    assert seen.watch(0.05) == {False}
    seen.light.start()
    assert seen.watch(0.05) == {True}
    seen.light.stop()
    seen.light.stop()
    assert seen.watch(0.05) == {False}


@pytest.mark.parametrize(
    ("lamp", "expected"), [(Lamp.READY, {True}), (Lamp.OFF, {False}), (Lamp.TROUBLE, {True, False})]
)
def test_it_is_steady_out_or_blinks(seen: Seen, lamp: Lamp, expected: set[bool]) -> None:
    seen.light.start()
    seen.light.show(lamp)
    assert seen.watch(0.5) == expected


def test_one_rhythm_ends_when_the_next_begins(seen: Seen) -> None:
    seen.light.start()
    for lamp in (Lamp.TROUBLE, Lamp.TAKING, Lamp.TROUBLE, Lamp.READY):
        seen.light.show(lamp)
    assert seen.watch(0.4) == {True}


def test_every_lamp_has_a_rhythm_of_its_own() -> None:
    assert RHYTHMS.keys() == set(Lamp)
    assert len(set(RHYTHMS.values())) == len(Lamp)
