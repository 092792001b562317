"""Hands on a panel: the simulated one by its calls, real drivers by mock pins that bounce and by keys of a pad."""

from __future__ import annotations

import itertools
import os
import queue
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from gpiozero.pins.mock import MockFactory, MockPin

from firmware.events import Event, KnobTurn, PanelKey, Pedal
from firmware.ports import Panel
from hardware.board.table import Board, own_board
from hardware.drivers.input_panel import InputPanel
from hardware.drivers.input_table import NUMBER_PAD, Turn
from hardware.drivers.panel import GpioPanel
from hardware.drivers.panels import Panels
from hardware.drivers.pin_factory import SharedPins
from hardware.simulated.input_device import SimulatedInput, SimulatedInputs
from hardware.simulated.panel import SimulatedPanel


class HandClock:
    """Seconds that stand still while a finger moves, so that a busy machine can't stretch a bounce."""

    def __init__(self) -> None:
        self._behind = 0.0
        self._held: float | None = None

    def __call__(self) -> float:
        return time.monotonic() - self._behind if self._held is None else self._held

    @contextmanager
    def still(self) -> Iterator[None]:
        self._held = self()
        yield
        self._behind, self._held = time.monotonic() - self._held, None

    def advance(self, seconds: float) -> None:
        assert self._held is not None
        self._held += seconds


class BouncingPin(MockPin):
    """A mock pin whose contact opens and closes a few times more within the millisecond after each change."""

    bounces = 2
    gap = 0.0003
    clock = HandClock()

    def drive_low(self) -> None:
        self._bounce_to(MockPin.drive_low, MockPin.drive_high)

    def drive_high(self) -> None:
        self._bounce_to(MockPin.drive_high, MockPin.drive_low)

    def _bounce_to(self, there: object, back: object) -> None:
        there(self)
        if self._when_changed is None:  # nobody listens yet: the pull-up of a new pin
            return
        for _ in range(self.bounces):
            self.clock.advance(self.gap)
            time.sleep(self.gap)  # the driver's thread gets to see both sides of the bounce
            back(self)
            time.sleep(self.gap)
            there(self)


class Hands:
    """What a person does to a panel, and what the panel posts."""

    many = 100

    def __init__(self, panel: Panel) -> None:
        self.panel = panel
        self.posted: queue.SimpleQueue[Event] = queue.SimpleQueue()
        self._count = itertools.count(1000, 10)

    def start(self) -> None:
        self.panel.start(self.posted.put, lambda: next(self._count))

    def events(self, count: int) -> list[Event]:
        """The next events; fewer if no more come."""
        found = []
        try:
            while len(found) < count:
                found.append(self.posted.get(timeout=2.0))
        except queue.Empty:
            pass
        return found

    def turned(self, steps: int) -> int:
        """Detents that the next events add up to; waits until there are as many as were made."""
        total = 0
        try:
            while total != steps:
                event = self.posted.get(timeout=2.0)
                assert isinstance(event, KnobTurn)
                total += event.steps
        except queue.Empty:
            pass
        return total

    def nothing_more(self) -> bool:
        """Whether nothing comes for longer than any contact takes to settle."""
        try:
            self.posted.get(timeout=0.03)
        except queue.Empty:
            return True
        return False


class SimulatedHands(Hands):
    """Hands on the simulated panel."""

    def __init__(self) -> None:
        self.simulated = SimulatedPanel()
        super().__init__(self.simulated)

    def press(self, key: PanelKey) -> None:
        self.simulated.press(key)

    def release(self, key: PanelKey) -> None:
        self.simulated.release(key)

    def turn(self, steps: int) -> None:
        self.simulated.turn(steps)

    def knob_down(self) -> None:
        self.simulated.knob_down()

    def knob_up(self) -> None:
        self.simulated.knob_up()

    def pedal_down(self, pedal: Pedal) -> None:
        self.simulated.pedal_down(pedal)

    def pedal_up(self, pedal: Pedal) -> None:
        self.simulated.pedal_up(pedal)


class PinHands(Hands):
    """Hands on the contacts of the real driver."""

    def __init__(self, pin_class: type[MockPin] = MockPin) -> None:
        self.factory = MockFactory(pin_class=pin_class)
        self.many = 100 if pin_class is MockPin else 10  # bounces take their time
        self.board: Board = own_board()
        super().__init__(GpioPanel(self.board, SharedPins(lambda: self.factory), clock=BouncingPin.clock))

    def close(self, pin: int) -> None:
        with BouncingPin.clock.still():
            self.factory.pin(pin).drive_low()

    def open(self, pin: int) -> None:
        with BouncingPin.clock.still():
            self.factory.pin(pin).drive_high()

    def press(self, key: PanelKey) -> None:
        self.close(dict(self.board.keys.pins)[key])

    def release(self, key: PanelKey) -> None:
        self.open(dict(self.board.keys.pins)[key])

    def turn(self, steps: int) -> None:
        # Clockwise, track a leads track b by a quarter of a cycle: the usual sense of an incremental encoder.
        knob = self.board.knob
        lead, lag = (knob.a, knob.b) if steps > 0 else (knob.b, knob.a)
        for _ in range(abs(steps)):
            self.close(lead)
            self.close(lag)
            self.open(lead)
            self.open(lag)

    def knob_down(self) -> None:
        self.close(self.board.knob.push)

    def knob_up(self) -> None:
        self.open(self.board.knob.push)

    def pedal_down(self, pedal: Pedal) -> None:
        self.close(dict(self.board.pedals.pins)[pedal])

    def pedal_up(self, pedal: Pedal) -> None:
        self.open(dict(self.board.pedals.pins)[pedal])


class PadHands(Hands):
    """Hands on a number pad, which the real driver reads from a pipe."""

    def __init__(self) -> None:
        self.inputs = SimulatedInputs()
        self.plug_in()
        super().__init__(InputPanel(lambda: self.inputs, look=0.02))

    def plug_in(self) -> None:
        self.device = SimulatedInput()
        self.inputs.plug(self.device, "/dev/input/event0")

    def start(self) -> None:
        if self.device.closed:
            self.plug_in()  # the pipe of a simulated device ends with its reader
        super().start()

    def strike(self, control: str, value: int) -> None:
        code = next(one.code for one in NUMBER_PAD if one.means.control == control and not isinstance(one.means, Turn))
        self.send(code, value)

    def send(self, code: int, value: int) -> None:
        if not self.device.closed:
            self.device.send(1, code, value)

    def press(self, key: PanelKey) -> None:
        self.strike(key.value, 1)

    def release(self, key: PanelKey) -> None:
        self.strike(key.value, 0)

    def turn(self, steps: int) -> None:
        code = next(one.code for one in NUMBER_PAD if isinstance(one.means, Turn) and one.means.steps * steps > 0)
        for _ in range(abs(steps)):
            self.send(code, 1)
            self.send(code, 0)

    def knob_down(self) -> None:
        self.strike("Knob", 1)

    def knob_up(self) -> None:
        self.strike("Knob", 0)

    def pedal_down(self, pedal: Pedal) -> None:
        self.strike(f"{pedal} pedal", 1)

    def pedal_up(self, pedal: Pedal) -> None:
        self.strike(f"{pedal} pedal", 0)


class KernelHands(PadHands):
    """Hands on a number pad that the kernel itself shows: made by uinput, where there is one, as in the guest."""

    def __init__(self) -> None:
        import evdev  # noqa: PLC0415 - it needs Linux

        self.device = evdev.UInput({evdev.ecodes.EV_KEY: [one.code for one in NUMBER_PAD]}, name="keelnote test pad")
        Hands.__init__(self, InputPanel(look=0.02))
        self.many = 20  # the queue of a kernel device holds a few dozen events

    def start(self) -> None:
        Hands.start(self)
        deadline = time.monotonic() + 5.0
        while not self.panel.names:
            assert time.monotonic() < deadline, self.panel.trouble
            time.sleep(0.01)

    def send(self, code: int, value: int) -> None:
        self.device.write(1, code, value)
        self.device.syn()
        time.sleep(0.002)


class BesideHands(PinHands):
    """Hands on the pins, with a number pad plugged in beside them."""

    def __init__(self) -> None:
        super().__init__()
        inputs = SimulatedInputs()
        inputs.plug(SimulatedInput())
        self.panel = Panels(self.panel, InputPanel(lambda: inputs))


MAKERS = {
    "simulated": SimulatedHands,
    "pins": PinHands,
    "bouncing pins": lambda: PinHands(BouncingPin),
    "number pad": PadHands,
    "pins beside a number pad": BesideHands,
}
if os.access("/dev/uinput", os.W_OK):
    MAKERS["kernel's number pad"] = KernelHands


@pytest.fixture(params=MAKERS)
def hands(request: pytest.FixtureRequest) -> Iterator[Hands]:
    """Hands on each kind of panel in turn; the panel is not started."""
    made = MAKERS[request.param]()
    yield made
    made.panel.stop()
    if isinstance(made, KernelHands):
        made.device.close()
