"""The real box under test, as the self-test asks for it: contacts, screen, LED, stick, sound, supply, clock, MIDI."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack, suppress
from typing import Final, Protocol

import numpy as np

from firmware.errors import DeviceError
from firmware.events import Event
from firmware.ports import Post, Stick
from firmware.screens.frame import Frame
from firmware.selftest.ask import Ask, Do
from firmware.selftest.pictures import lit_turn, picture, verdict
from firmware.selftest.signals import (
    BusScanned,
    ClockRead,
    KeyboardsFound,
    LineChanged,
    LinesProbed,
    Passed,
    Probe,
    SoundRecorded,
    SupplyRead,
)
from firmware.selftest.walk import Walk
from firmware.units import RATE
from hardware.stick_speed import measure_stick

WAIT_SECONDS: Final = 0.05
SHOWN_SECONDS: Final = 4.0
"""How long each fault is shown at the end."""

ROUNDS: Final = 3
"""How often all of them are shown, if no key is pressed."""


LET_GO: Final = Ask("rest", Do.HANDS_OFF, "Self-test: let go of all keys")

NOTHING: Final = np.zeros(0, np.float32)


class Lines(Protocol):
    """The contacts, as `hardware.drivers.raw_lines` has them."""

    def start(self, post: Post, now: Callable[[], int]) -> None:
        """Begin to post; raises DeviceError."""

    def stop(self) -> None:
        """End."""

    def probe(self) -> tuple[Probe, ...]:
        """How each line reads."""


class Sounds(Protocol):
    """The sound card, as `hardware.drivers.sound_probe` has it."""

    def start(self) -> None:
        """Open it; raises DeviceError."""

    def stop(self) -> None:
        """Let it go."""

    def tone(self, *, on: bool) -> None:
        """Begin or end the tone."""

    def record(self) -> None:
        """Begin to record the test sound."""

    def recorded(self, at: int) -> SoundRecorded | None:
        """The recording, once it is whole."""


class Glass(Protocol):
    """The screen."""

    def start(self) -> None:
        """Begin to serve it."""

    def stop(self) -> None:
        """End."""

    def show(self, frame: Frame) -> None:
        """Show a picture."""


class Keyboards(Protocol):
    """MIDI keyboards, as `hardware.drivers.midi_keyboard` has them."""

    def start(self, post: Post, now: Callable[[], int]) -> None:
        """Begin to look, and to post what they play."""

    def stop(self) -> None:
        """End."""

    def found(self, at: int) -> KeyboardsFound:
        """Which there are."""


class Parts(Protocol):
    """What the box is made of; put together by `hardware.own_parts`."""

    @property
    def lines(self) -> Lines:
        """The contacts."""

    @property
    def glass(self) -> Glass:
        """The screen."""

    @property
    def sounds(self) -> Sounds:
        """The sound card."""

    @property
    def stick(self) -> Stick:
        """The stick."""

    @property
    def keyboards(self) -> Keyboards:
        """MIDI keyboards."""

    def flash(self, *, on: bool) -> None:
        """Let the LED flash shortly once a second, or put it out."""

    def scan(self) -> tuple[tuple[int, ...], float | None]:
        """Addresses on the I2C bus, and seconds for a picture; raises OSError without a bus."""

    def supply(self, at: int) -> SupplyRead:
        """How the supply is."""

    def clock(self) -> tuple[bool, bool]:
        """Whether a clock chip is there, and whether it goes."""


class RealBoxUnderTest:
    """Keeps the contract of `hardware.selftest.BoxUnderTest`.

    Parameters
    ----------
    parts : Parts
        What the box is made of; a part that is missing is told as an event, never raised, but for the pins.
    seconds : function
        A clock that never jumps.
    patience : float
        Seconds that `wait` waits for an event at most.
    """

    def __init__(
        self, parts: Parts, seconds: Callable[[], float] = time.monotonic, patience: float = WAIT_SECONDS
    ) -> None:
        self._parts = parts
        self._patience = patience
        self._seconds = seconds
        self._began = seconds()
        self._inbox: queue.SimpleQueue[Event] = queue.SimpleQueue()
        self._ask: Ask | None = None
        self._asked_at = 0.0
        self._no_card = ""
        self._opened = ExitStack()

    def open(self) -> None:
        """Take the box's parts; raises DeviceError when there are no pins, without which nothing can be tested."""
        with ExitStack() as opened:
            opened.callback(self._parts.lines.stop)
            self._parts.lines.start(self._inbox.put, self.now)
            self._parts.glass.start()
            opened.callback(self._parts.glass.stop)
            try:
                self._parts.sounds.start()
            except DeviceError as error:
                self._no_card = error.text
            opened.callback(self._parts.sounds.stop)
            self._parts.keyboards.start(self._inbox.put, self.now)
            opened.callback(self._parts.keyboards.stop)
            self._opened = opened.pop_all()

    def close(self) -> None:
        """Let them go; a second call does nothing."""
        self._opened.close()

    def now(self) -> int:
        """Samples since it was made."""
        return round((self._seconds() - self._began) * RATE)

    def begin(self, ask: Ask) -> None:
        """Begin to do, or show, what is asked."""
        self._ask, self._asked_at = ask, self._seconds()
        self._parts.flash(on=ask.do is Do.WATCH_LED)
        self._parts.sounds.tone(on=ask.do is Do.LISTEN)
        if ask.text:
            self._parts.glass.show(picture(ask))
        if ask.do in ALONE:
            told = ALONE[ask.do](self)
            if told is not None:
                self._inbox.put(told)

    def wait(self) -> Sequence[Event]:
        """Events since the last call, after a twentieth of a second at most."""
        events: list[Event] = []
        with suppress(queue.Empty):
            events.append(self._inbox.get(timeout=self._patience))
            while True:
                events.append(self._inbox.get_nowait())
        recorded = self._parts.sounds.recorded(self.now())
        if recorded is not None:
            events.append(recorded)
        self._take_turns()
        return (*events, Passed(self.now()))

    def let_go(self, lines: Sequence[str], patience: float) -> bool:
        """Ask for hands off until all of some lines are open; false if they are not within some seconds."""
        self._parts.glass.show(picture(LET_GO))
        until = self._seconds() + patience
        closed: set[str] = set()
        while True:  # those that are closed were told when the lines were opened
            for event in self.wait():
                if isinstance(event, LineChanged) and event.line in lines:
                    (closed.add if event.closed else closed.discard)(event.line)
            if not closed or self._seconds() >= until:
                return not closed

    def finish(self, walk: Walk) -> None:
        """Show what was found, each fault in its turn, until a key is pressed or all were shown some times."""
        shows = ROUNDS * max(1, len(walk.findings))
        for turn in range(shows):
            self._parts.glass.show(verdict(walk.findings, turn))
            until = self._seconds() + SHOWN_SECONDS
            while self._seconds() < until:
                if any(isinstance(event, LineChanged) and event.closed for event in self.wait()):
                    return

    def _take_turns(self) -> None:
        ask = self._ask
        if ask is not None and ask.do is Do.LOOK_ALL_LIT:
            self._parts.glass.show(picture(ask, lit=lit_turn(self._seconds() - self._asked_at)))

    # --- what the machine does alone ---------------------------------------------------------------------------------

    def probe(self) -> Event:
        """How the lines read."""
        return LinesProbed(self.now(), self._parts.lines.probe())

    def scan(self) -> Event:
        """Who answers on the bus."""
        try:
            addresses, seconds = self._parts.scan()
        except OSError as error:
            return BusScanned(self.now(), (), None, error.strerror or str(error))
        return BusScanned(self.now(), addresses, seconds)

    def measure(self) -> Event:
        """How fast the stick is."""
        return measure_stick(self._parts.stick, self._seconds, self.now())

    def record(self) -> Event | None:
        """Begin to record; what was recorded comes later."""
        if self._no_card:
            return SoundRecorded(self.now(), NOTHING, NOTHING, error=self._no_card)
        self._parts.sounds.record()
        return None

    def supply(self) -> Event:
        """How the supply is."""
        return self._parts.supply(self.now())

    def clock(self) -> Event:
        """How the clock chip is."""
        there, running = self._parts.clock()
        return ClockRead(self.now(), there, running)

    def keyboards(self) -> Event:
        """Which keyboards there are."""
        return self._parts.keyboards.found(self.now())


ALONE: Final[Mapping[Do, Callable[[RealBoxUnderTest], Event | None]]] = {
    Do.PROBE: RealBoxUnderTest.probe,
    Do.SCAN: RealBoxUnderTest.scan,
    Do.MEASURE_STICK: RealBoxUnderTest.measure,
    Do.RECORD: RealBoxUnderTest.record,
    Do.READ_SUPPLY: RealBoxUnderTest.supply,
    Do.READ_CLOCK: RealBoxUnderTest.clock,
    Do.FIND_KEYBOARDS: RealBoxUnderTest.keyboards,
}
"""What needs no hands, and how it is done."""
