"""A simulated box under test, in simulated time, with a builder who does what is asked."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from firmware.events import Event
from firmware.selftest.ask import Ask, Do
from firmware.selftest.bench import Bench
from firmware.selftest.signals import (
    BusScanned,
    ClockRead,
    KeyboardsFound,
    LineChanged,
    LinesProbed,
    Passed,
    SoundRecorded,
    StickMeasured,
    SupplyRead,
)
from firmware.selftest.sound_figures import played
from firmware.selftest.steps.screen import FRAME_BITS
from firmware.units import samples_of
from hardware.simulated.board import SimulatedLines
from hardware.simulated.builder import Pace, SimulatedBuilder
from hardware.simulated.faulty_box import FaultyBox
from hardware.simulated.slow_stick import SlowStick
from hardware.simulated.sound_path import heard_through
from hardware.stick_speed import measure_stick

TICK: Final = samples_of(0.05)
NOISE_EACH: Final = samples_of(0.4)
NOISE_LASTS: Final = samples_of(0.001)


class SimulatedBoxUnderTest:
    """Keeps the contract of `hardware.selftest.BoxUnderTest`; no time passes but what it says.

    Parameters
    ----------
    bench : Bench
        What is tested.
    box : FaultyBox
        How it was built.
    builder : bool
        Whether somebody is there to press and answer.
    pace, slips
        Of that builder.
    """

    def __init__(
        self,
        bench: Bench,
        box: FaultyBox,
        *,
        builder: bool = True,
        pace: Pace | None = None,
        slips: Mapping[str, str] | None = None,
    ) -> None:
        self._bench = bench
        self._box = box
        self._lines = SimulatedLines(bench, box.wiring)
        self._builder = SimulatedBuilder(bench, box, self._lines, pace, slips)
        self._present = builder
        self._now = 0
        self._closed: frozenset[str] = frozenset()
        self._told: list[Event] = []
        self._noise_due = NOISE_EACH
        self._spark = False

    def now(self) -> int:
        """Samples that have passed."""
        return self._now

    def begin(self, ask: Ask) -> None:
        """Do what is asked; a person takes a moment, a machine none."""
        if self._present:
            self._builder.asked(ask, self._now)
        machine = MACHINE.get(ask.do)
        if machine is not None:
            self._told.append(machine(self))

    def wait(self) -> Sequence[Event]:
        """Let time pass until something moves, or for a twentieth of a second."""
        told, self._told = self._told, []
        ends = self._now + TICK
        due = self._builder.due
        self._now = min(ends, due if due is not None else ends, self._noise_due if self._box.noisy else ends)
        self._builder.move(self._now)
        self._move_noise()
        return (*told, *self._changes(), *self._builder.played(), Passed(self._now))

    def _move_noise(self) -> None:
        if self._box.noisy and self._now >= self._noise_due:
            self._spark = not self._spark
            self._noise_due = self._now + (NOISE_LASTS if self._spark else NOISE_EACH)

    def _changes(self) -> tuple[Event, ...]:
        closed = self._lines.closed()
        if self._spark:
            closed |= self._box.noisy
        changed = sorted(closed ^ self._closed)
        self._closed = closed
        return tuple(LineChanged(self._now, line, line in closed) for line in changed)

    # --- what the machine does alone ---------------------------------------------------------------------------------

    def probe(self) -> Event:
        """How the lines read."""
        return LinesProbed(self._now, self._lines.probes())

    def scan(self) -> Event:
        """Who answers on the bus."""
        box = self._box
        if box.bus_error:
            return BusScanned(self._now, (), None, box.bus_error)
        seconds = FRAME_BITS / box.bus_hz if self._bench.screen in box.addresses else None
        return BusScanned(self._now, box.addresses, seconds)

    def measure(self) -> Event:
        """How fast the stick is; a real file is written to a folder of its own."""
        if self._box.stick_trouble:
            return StickMeasured(self._now, self._box.stick_trouble)
        with TemporaryDirectory() as folder:
            box = self._box
            stick = SlowStick(Path(folder) / "KEELNOTE", box.stick_free, box.stick_speed, box.stick_stall)
            return measure_stick(stick, stick.clock, self._now)

    def record(self) -> Event:
        """What the microphone hears of the test sound."""
        path, own = self._box.sound, played()
        if path.card:
            return SoundRecorded(self._now, own[:0], own[:0], error=path.card)
        return SoundRecorded(self._now, heard_through(path, own), own, path.lost)

    def supply(self) -> Event:
        """How the supply is."""
        return SupplyRead(self._now, self._box.low_now, self._box.low_before, self._box.celsius)

    def clock(self) -> Event:
        """How the clock chip is."""
        there = self._box.clock_there and self._bench.clock in self._box.addresses
        return ClockRead(self._now, there, there and self._box.clock_runs)

    def keyboards(self) -> Event:
        """Which keyboards there are."""
        name = self._box.keyboard
        if self._box.keyboard_does == "refuses":
            return KeyboardsFound(self._now, (), ((name, "device is busy"),))
        return KeyboardsFound(self._now, (name,) if name else ())


MACHINE: Final[Mapping[Do, Callable[[SimulatedBoxUnderTest], Event]]] = {
    Do.PROBE: SimulatedBoxUnderTest.probe,
    Do.SCAN: SimulatedBoxUnderTest.scan,
    Do.MEASURE_STICK: SimulatedBoxUnderTest.measure,
    Do.RECORD: SimulatedBoxUnderTest.record,
    Do.READ_SUPPLY: SimulatedBoxUnderTest.supply,
    Do.READ_CLOCK: SimulatedBoxUnderTest.clock,
    Do.FIND_KEYBOARDS: SimulatedBoxUnderTest.keyboards,
}
