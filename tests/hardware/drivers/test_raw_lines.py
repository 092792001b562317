"""The real driver of the contacts on mock pins that read a model of the wiring."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

import pytest
from gpiozero import DigitalInputDevice

from firmware.errors import DeviceError
from firmware.selftest.signals import LineChanged
from hardware.board.table import own_board
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.raw_lines import RawLines
from hardware.selftest import bench_of
from hardware.simulated.board import SimulatedLines, wired
from tests.hardware.drivers.wired_pins import follow, wired_factory

BOARD = own_board()


class Desk:
    """A driver, its pins, and the contacts behind them."""

    def __init__(self) -> None:
        bench = bench_of(BOARD)
        self.model = SimulatedLines(bench, wired(bench))
        self.factory = wired_factory(BOARD, self.model)
        self.lines = RawLines(BOARD, SharedPins(lambda: self.factory), sleep=lambda _seconds: None)
        self.told: list[LineChanged] = []

    def start(self) -> None:
        self.lines.start(self.told.append, lambda: 7)

    def press(self, name: str, *, down: bool) -> None:
        self.model.press(name, down=down)
        follow(self.factory, BOARD)

    @property
    def changes(self) -> list[tuple[str, bool]]:
        return [(event.line, event.closed) for event in self.told]


@pytest.fixture
def desk() -> Iterator[Desk]:
    made = Desk()
    yield made
    made.lines.stop()


def test_every_contact_is_told_by_its_name(desk: Desk) -> None:
    desk.start()
    for name, _ in BOARD.contacts:
        desk.press(name, down=True)
        desk.press(name, down=False)
    assert desk.changes == [(name, closed) for name, _ in BOARD.contacts for closed in (True, False)]
    assert {event.at for event in desk.told} == {7}


def test_a_line_that_is_closed_at_the_start_is_told(desk: Desk) -> None:
    desk.model.wiring.closed_up.add("left pedal")
    desk.start()
    assert desk.changes == [("left pedal", True)]


def test_a_probe_sees_pull_ups_shorts_and_supplies_and_lets_the_watch_go_on(desk: Desk) -> None:
    desk.model.wiring.pulled_up.discard("left pedal")
    desk.model.wiring.to_supply.add("key Drone")
    desk.model.wiring.to_ground.add("key Ear")
    desk.start()
    read = {probe.line: (probe.high_pulled_up, probe.high_pulled_down) for probe in desk.lines.probe()}
    assert read["left pedal"] == (True, False)
    assert read["right pedal"] == (True, True)
    assert read["key Drone"] == (True, True)
    assert read["key Ear"] == (False, False)
    assert read["knob a"] == (True, False)
    desk.told.clear()
    desk.press("key Take", down=True)
    assert desk.changes == [("key Take", True)]


def test_a_line_that_moved_during_a_probe_is_told_after_it(desk: Desk) -> None:
    desk.start()
    desk.model.press("key Take", down=True)
    desk.lines.probe()
    assert desk.changes == [("key Take", True)]


def test_without_pins_it_says_so(desk: Desk) -> None:
    def none() -> None:
        raise DeviceError("pins", "none", "a Raspberry Pi is needed")

    with pytest.raises(DeviceError, match="Raspberry"):
        RawLines(BOARD, SharedPins(none)).start(lambda _event: None, int)
    taken = DigitalInputDevice(BOARD.power.pin, pull_up=True, pin_factory=desk.factory)
    with pytest.raises(DeviceError, match="free"):
        desk.start()
    taken.close()
    desk.start()
    with suppress(DeviceError):
        desk.lines.stop()
    desk.lines.stop()
