"""What every power key keeps: the simulated one, and the real driver on a mock pin."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import pytest
from gpiozero.pins.mock import MockFactory

from hardware.board.table import own_board
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.power_key import GpioPowerKey
from hardware.simulated.power_key import SimulatedPowerKey

BOARD = own_board()
HOLD = 0.6
"""Seconds; long beside what a busy machine makes of a short sleep."""


class SimulatedHand:
    def __init__(self) -> None:
        self.key = SimulatedPowerKey()

    def tap(self) -> None:
        self.key.tap()

    def hold(self) -> None:
        self.key.hold()


class PinHand:
    def __init__(self) -> None:
        self.factory = MockFactory()
        self.key = GpioPowerKey(BOARD, SharedPins(lambda: self.factory), hold=HOLD)

    def press(self, seconds: float) -> None:
        pin = self.factory.pin(BOARD.power.pin)
        for _ in range(3):  # it bounces
            pin.drive_low()
            pin.drive_high()
        pin.drive_low()
        time.sleep(seconds)
        pin.drive_high()
        time.sleep(4 * BOARD.power.settle)

    def tap(self) -> None:
        self.press(2 * BOARD.power.settle)

    def hold(self) -> None:
        self.press(HOLD + 4 * BOARD.power.settle)


@pytest.fixture(params=[SimulatedHand, PinHand])
def hand(request: pytest.FixtureRequest) -> Iterator[SimulatedHand | PinHand]:
    made = request.param()
    yield made
    made.key.stop()


def test_held_it_calls_once_each_time(hand: SimulatedHand | PinHand) -> None:
    calls = []
    hand.key.start(lambda: calls.append(True))
    for held in (1, 2):
        hand.hold()
        deadline = time.monotonic() + 5.0
        while len(calls) < held and time.monotonic() < deadline:
            time.sleep(0.01)
        assert len(calls) == held


def test_a_tap_does_nothing(hand: SimulatedHand | PinHand) -> None:
    calls = []
    hand.key.start(lambda: calls.append(True))
    hand.tap()
    time.sleep(HOLD)
    assert calls == []


def test_after_the_end_it_does_nothing_and_a_second_end_neither(hand: SimulatedHand | PinHand) -> None:
    calls = []
    hand.key.start(lambda: calls.append(True))
    hand.key.stop()
    hand.key.stop()
    hand.hold()
    assert calls == []


def test_it_leaves_no_thread(hand: SimulatedHand | PinHand) -> None:
    before = threading.active_count()
    hand.key.start(bool)
    hand.tap()
    hand.key.stop()
    assert threading.active_count() == before
