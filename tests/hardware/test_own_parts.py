"""Whether the self-test is wanted at power-on, and its report on the stick."""

from __future__ import annotations

from pathlib import Path

import pytest
from gpiozero import LED
from gpiozero.pins.mock import MockFactory

from firmware.errors import DeviceError
from firmware.screens.frame import Frame
from firmware.selftest.walk import Walk
from hardware.board.table import own_board
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.raw_lines import RawLines
from hardware.own_parts import STARTING_KEY, OwnParts, keep_report, open_own_box, run_at_start, wanted_at_start
from hardware.selftest import bench_of
from hardware.service.notify import Notifier
from hardware.simulated.board import SimulatedLines, wired
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest
from hardware.simulated.stick import SimulatedStick
from tests.hardware.drivers.wired_pins import follow, wired_factory

BOARD = own_board()


class Start:
    """A box at power-on, whose key is let go after some seconds."""

    def __init__(self, held: float | None) -> None:
        bench = bench_of(BOARD)
        self.model = SimulatedLines(bench, wired(bench))
        self.factory = wired_factory(BOARD, self.model)
        self.lines = RawLines(BOARD, SharedPins(lambda: self.factory), sleep=lambda _seconds: None)
        self.seconds = 0.0
        self.held = held
        if held is not None:
            self.model.press(f"key {STARTING_KEY}", down=True)

    def sleep(self, seconds: float) -> None:
        self.seconds += seconds
        if self.held is not None and self.seconds >= self.held:
            self.model.press(f"key {STARTING_KEY}", down=False)
            follow(self.factory, BOARD)

    def wanted(self) -> bool:
        return wanted_at_start(self.lines, lambda: self.seconds, self.sleep)


@pytest.mark.parametrize(("held", "wanted"), [(None, False), (0.3, False), (1.5, True), (5.0, True), (1000.0, False)])
def test_a_key_that_is_held_for_a_moment_asks_for_it_and_a_jammed_one_does_not(
    held: float | None,
    wanted: bool,  # noqa: FBT001 - a row
) -> None:
    start = Start(held)
    assert start.wanted() is wanted
    assert start.seconds < 7.0


def test_another_key_asks_for_nothing() -> None:
    start = Start(None)
    start.model.press("key Drone", down=True)
    assert not start.wanted()


def no_pins() -> MockFactory:
    """A computer without pins."""
    raise DeviceError("pins", "none", "a Raspberry Pi is needed")


def test_a_computer_without_pins_starts_as_ever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert not wanted_at_start(RawLines(BOARD, SharedPins(no_pins)))
    monkeypatch.setattr("hardware.drivers.pin_factory.CHOICES", (("none", no_pins),))
    with pytest.raises(DeviceError):
        open_own_box(BOARD, tmp_path)
    run_at_start(BOARD, tmp_path, Notifier())


def test_the_report_is_added_to_what_is_there(tmp_path: Path) -> None:
    stick = SimulatedStick(tmp_path / "KEELNOTE")
    stick.write_text("report.txt", "before\n")
    assert keep_report(stick, ("Self-test", "Nothing is wrong."))
    assert stick.read_text("report.txt") == "before\nSelf-test\nNothing is wrong.\n"
    stick.pull_out()
    assert not keep_report(stick, ("x",))


def test_the_led_flashes_while_it_is_judged_and_its_pin_is_let_go(tmp_path: Path) -> None:
    factory = MockFactory()
    parts = OwnParts(BOARD, SimulatedStick(tmp_path / "KEELNOTE"), SharedPins(lambda: factory))
    parts.flash(on=True)
    assert factory.pin(BOARD.led.pin).function == "output"
    parts.flash(on=False)
    with LED(BOARD.led.pin, pin_factory=factory) as free:
        assert not free.is_lit
    parts.flash(on=False)


class Wire:
    """A glass that takes everything at once."""

    def write(self, _frame: Frame) -> None:
        """Take a picture."""

    def contrast(self, _level: int) -> None:
        """Take a brightness."""

    def renew(self) -> None:
        """Nothing to renew."""

    def close(self) -> None:
        """Nothing to close."""


def test_the_time_of_a_picture_is_that_of_one_that_is_new(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("hardware.own_parts.open_oled", lambda _port, _pins: Wire())
    monkeypatch.setattr("hardware.own_parts.FRAME_PATIENCE", 0.5)
    parts = OwnParts(BOARD, SimulatedStick(tmp_path / "KEELNOTE"), SharedPins(MockFactory))
    assert parts.frame_seconds() is None
    parts.glass.start()
    seconds = parts.frame_seconds()
    parts.glass.stop()
    assert seconds is not None
    assert 0 < seconds < 0.5
    assert parts.supply(3).at == 3
    assert isinstance(parts.clock(), tuple)
    with pytest.raises(OSError, match=r"i2c|smbus|No such"):
        parts.scan()


def test_a_whole_test_at_power_on_reports_and_keeps_the_watchdog_calm(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = bench_of(BOARD)
    box = SimulatedBoxUnderTest(bench, good_box(bench))
    shown: list[Walk] = []
    kept: list[tuple[str, ...]] = []
    monkeypatch.setattr("hardware.own_parts.open_own_box", lambda _board, _mount: (box, shown.append, kept.append))
    told: list[str] = []
    notifier = Notifier()
    monkeypatch.setattr(notifier, "_send", told.append)
    run_at_start(BOARD, tmp_path, notifier)
    assert told[:3] == ["READY=1", "STATUS=Self-test", "WATCHDOG=1"]
    assert shown[0].findings == ()
    assert "Nothing is wrong." in kept[0]
