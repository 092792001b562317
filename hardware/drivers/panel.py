"""The box's own panel: six keys, a knob that can be pushed, and two pedals on the pins of a Raspberry Pi.

gpiozero watches the pins and counts the knob's detents; its state machine lets the tracks bounce. Its bounce time is
of no use to us: it has no effect on a RotaryEncoder, and on a button the last edge can fall into the dead time and be
lost. So every contact goes through `hardware.drivers.debounce`, timed by one thread, which is also the only one that
posts: events come out in the order of their sample counts.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from firmware.errors import DeviceError
from firmware.events import Event, KeyDown, KeyUp, KnobDown, KnobUp, PedalDown, PedalUp
from firmware.ports import Now, Post
from hardware.board.table import Board
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.settler import Settler

if TYPE_CHECKING:
    from gpiozero import Factory


@dataclass(frozen=True, slots=True)
class Line:
    """One contact on one pin: its settling time and its events.

    `learns` says that the position at power-on counts as up: pedals are sold normally open and normally closed.
    """

    pin: int
    settle: float
    down: Callable[[int], Event]
    up: Callable[[int], Event]
    learns: bool = False


def lines_of(board: Board) -> tuple[Line, ...]:
    """Every contact of a board."""
    keys = (
        Line(pin, board.keys.settle, partial(KeyDown, key=key), partial(KeyUp, key=key)) for key, pin in board.keys.pins
    )
    knob = Line(board.knob.push, board.knob.settle, KnobDown, KnobUp)
    pedals = (
        Line(pin, board.pedals.settle, partial(PedalDown, pedal=pedal), partial(PedalUp, pedal=pedal), learns=True)
        for pedal, pin in board.pedals.pins
    )
    return (*keys, knob, *pedals)


class GpioPanel:
    """Keys, knob and pedals on pins; keeps the Panel contract.

    Parameters
    ----------
    board
        What is on which pin.
    pins
        The pin library, borrowed while the panel runs.
    knob_elsewhere
        Says at the start whether the kernel reads the knob (`InputPanel.has_knob`): its tracks are not ours then.
    clock
        Seconds for the settling of contacts. Not the sample clock, which stands still while there is no sound card.
    """

    def __init__(
        self,
        board: Board,
        pins: SharedPins | None = None,
        knob_elsewhere: Callable[[], bool] = lambda: False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._board = board
        self._pins = pins or SharedPins()
        self._knob_elsewhere = knob_elsewhere
        self._clock = clock
        self._open = ExitStack()

    def start(self, post: Post, now: Now) -> None:
        """Begin to post; raises DeviceError when the pins can't be had. A second call begins anew."""
        self.stop()
        with ExitStack() as opened:
            factory = opened.enter_context(self._pins.borrowed())
            settler = Settler(post, now, self._clock)
            try:
                self._watch(factory, settler, opened)
            except Exception as error:  # each pin library has errors of its own, of no common kind
                raise DeviceError("pins", str(error), "every pin of the board file must be free") from error
            opened.callback(settler.stop)
            settler.start()
            self._open = opened.pop_all()

    def stop(self) -> None:
        """Stop posting and let the pins go; a second call does nothing."""
        self._open.close()

    def _watch(self, factory: Factory, settler: Settler, opened: ExitStack) -> None:
        """Open every pin, and let its edges go to the settler."""
        from gpiozero import DigitalInputDevice, RotaryEncoder  # noqa: PLC0415 - as above

        for line in lines_of(self._board):
            device = opened.enter_context(DigitalInputDevice(line.pin, pull_up=True, pin_factory=factory))
            rest = line.learns and device.is_active
            contact = settler.add(line.settle, line.down, line.up, closed=device.is_active != rest)
            device.when_activated = _telling(settler, contact, closed=not rest)
            device.when_deactivated = _telling(settler, contact, closed=rest)
            settler.edge(contact, closed=device.is_active != rest)  # it may have moved before we listened
        if self._knob_elsewhere():
            return
        knob = self._board.knob
        encoder = opened.enter_context(RotaryEncoder(knob.a, knob.b, max_steps=0, pin_factory=factory))
        encoder.when_rotated_clockwise = lambda: settler.turn(1)
        encoder.when_rotated_counter_clockwise = lambda: settler.turn(-1)


def _telling(settler: Settler, contact: int, *, closed: bool) -> Callable[[], None]:
    # gpiozero refuses a partial with keywords as a handler.
    return lambda: settler.edge(contact, closed=closed)
