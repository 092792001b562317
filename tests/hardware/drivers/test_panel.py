"""What only the real panel meets: jammed keys, pedals of either kind, pins that are taken, latency."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Iterator
from statistics import median

import pytest
from gpiozero import LED
from gpiozero.pins.mock import MockFactory

from firmware.errors import DeviceError
from firmware.events import Event, KeyDown, KeyUp, KnobDown, PanelKey, Pedal, PedalDown, PedalUp
from hardware.board.table import own_board
from hardware.drivers.panel import GpioPanel, lines_of
from hardware.drivers.pin_factory import SharedPins

BOARD = own_board()
DRONE = dict(BOARD.keys.pins)[PanelKey.DRONE]
LEFT = dict(BOARD.pedals.pins)[Pedal.LEFT]


class Bench:
    """The panel on mock pins, and what it posts."""

    def __init__(self) -> None:
        self.factory = MockFactory()
        self.panel = GpioPanel(BOARD, SharedPins(lambda: self.factory))
        self.posted: queue.SimpleQueue[Event] = queue.SimpleQueue()

    def start(self) -> None:
        self.panel.start(self.posted.put, lambda: 7)

    def next(self, timeout: float = 2.0) -> Event | None:
        try:
            return self.posted.get(timeout=timeout)
        except queue.Empty:
            return None


@pytest.fixture
def bench() -> Iterator[Bench]:
    made = Bench()
    yield made
    made.panel.stop()


class StartsLow(MockFactory):
    """Pins of which some are held down from the first moment, pull-up or not."""

    def __init__(self, low: int) -> None:
        super().__init__()
        self.low = low

    def pin(self, name: int, pin_class: object = None, **more: object) -> object:
        made = super().pin(name, pin_class, **more)
        if name == self.low and made._when_changed is None:
            made._set_pull = lambda _: made.drive_low()
        return made


def test_a_jammed_key_says_nothing_until_it_was_open_once(bench: Bench) -> None:
    bench.factory = StartsLow(DRONE)
    bench.start()
    pin = bench.factory.pin(DRONE)
    pin.drive_high()
    assert bench.next(0.05) is None
    pin.drive_low()
    assert bench.next() == KeyDown(7, PanelKey.DRONE)
    pin.drive_high()
    assert bench.next() == KeyUp(7, PanelKey.DRONE)


def test_a_normally_closed_pedal_goes_down_when_it_opens(bench: Bench) -> None:
    bench.factory = StartsLow(LEFT)
    bench.start()
    pin = bench.factory.pin(LEFT)
    assert bench.next(0.05) is None
    pin.drive_high()
    assert bench.next() == PedalDown(7, Pedal.LEFT)
    pin.drive_low()
    assert bench.next() == PedalUp(7, Pedal.LEFT)


def test_a_pin_that_is_taken_is_named_and_the_others_are_let_go(bench: Bench) -> None:
    with LED(DRONE, pin_factory=bench.factory), pytest.raises(DeviceError, match=str(DRONE)):
        bench.start()
    bench.start()
    bench.factory.pin(DRONE).drive_low()
    assert bench.next() == KeyDown(7, PanelKey.DRONE)


class Odd(MockFactory):
    """A library with errors of a kind of its own."""

    def pin(self, name: int, pin_class: object = None, **more: object) -> object:
        if name == LEFT:
            raise LookupError("GPIO busy")
        return super().pin(name, pin_class, **more)


def test_an_error_of_any_kind_is_said_in_ours(bench: Bench) -> None:
    bench.factory = Odd()
    with pytest.raises(DeviceError, match="GPIO busy"):
        bench.start()
    bench.factory = MockFactory()
    bench.start()


def test_stopping_ends_its_thread(bench: Bench) -> None:
    before = threading.active_count()
    bench.start()
    assert threading.active_count() == before + 1
    bench.panel.stop()
    assert threading.active_count() == before


def test_every_pin_of_the_board_is_watched() -> None:
    knob = {BOARD.knob.a, BOARD.knob.b}
    assert {line.pin for line in lines_of(BOARD)} | knob == {pin for _, pin in BOARD.pins}


def test_a_press_is_told_within_50_ms(bench: Bench) -> None:
    bench.start()
    waited = []
    for _ in range(9):
        pressed = time.monotonic()
        bench.factory.pin(DRONE).drive_low()
        assert bench.next() is not None
        waited.append(time.monotonic() - pressed)
        bench.factory.pin(DRONE).drive_high()
        assert bench.next() is not None
    assert BOARD.keys.settle <= median(waited) < 0.050


def test_a_knob_that_the_kernel_reads_is_left_to_it(bench: Bench) -> None:
    knob = (BOARD.knob.a, BOARD.knob.b)
    with LED(knob[0], pin_factory=bench.factory), LED(knob[1], pin_factory=bench.factory):
        panel = GpioPanel(BOARD, SharedPins(lambda: bench.factory), knob_elsewhere=lambda: True)
        panel.start(bench.posted.put, lambda: 7)
        bench.factory.pin(BOARD.knob.push).drive_low()
        assert bench.next() == KnobDown(7)
        panel.stop()
