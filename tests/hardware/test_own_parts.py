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
from hardware.own_parts import STARTING_LINES, OwnParts, held_at_start, keep_report, open_own_box, run_at_start
from hardware.selftest import bench_of
from hardware.service.notify import Notifier
from hardware.simulated.board import SimulatedLines, wired
from hardware.simulated.faulty_box import good_box
from hardware.simulated.selftest_bench import SimulatedBoxUnderTest
from hardware.simulated.stick import SimulatedStick
from tests.hardware.drivers.wired_pins import follow, wired_factory

BOARD = own_board()


class Start:
    """A box at power-on, with some lines held for some seconds."""

    def __init__(self, held: float, *lines: str) -> None:
        bench = bench_of(BOARD)
        self.model = SimulatedLines(bench, wired(bench))
        self.factory = wired_factory(BOARD, self.model)
        self.lines = RawLines(BOARD, SharedPins(lambda: self.factory), sleep=lambda _seconds: None)
        self.seconds = 0.0
        self.held = held
        for line in lines:
            self.model.press(line, down=True)

    def sleep(self, seconds: float) -> None:
        self.seconds += seconds
        if self.seconds >= self.held:
            for line in STARTING_LINES:
                self.model.press(line, down=False)
            follow(self.factory, BOARD)

    def wanted(self) -> bool:
        return held_at_start(self.lines, lambda: self.seconds, self.sleep)


@pytest.mark.parametrize(("held", "wanted"), [(0.0, False), (0.5, False), (1.5, True), (60.0, True)])
def test_two_keys_that_are_held_for_a_second_ask_for_it(held: float, wanted: bool) -> None:  # noqa: FBT001 - a row
    start = Start(held, *STARTING_LINES)
    assert start.wanted() is wanted
    assert start.seconds < 1.1


@pytest.mark.parametrize("lines", [(), ("key Drone",), STARTING_LINES[:1], STARTING_LINES[1:]])
def test_other_keys_and_one_of_them_alone_ask_for_nothing(lines: tuple[str, ...]) -> None:
    start = Start(60.0, *lines)
    assert not start.wanted()
    assert start.seconds == 0.0


def no_pins() -> MockFactory:
    """A computer without pins."""
    raise DeviceError("pins", "none", "a Raspberry Pi is needed")


def test_a_computer_without_pins_starts_as_ever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert not held_at_start(RawLines(BOARD, SharedPins(no_pins)))
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


class Started(SimulatedBoxUnderTest):
    """A simulated box whose starting keys come up, or not."""

    comes_up = True
    closed = False

    def let_go(self, lines: tuple[str, ...], _patience: float) -> bool:
        assert lines == STARTING_LINES
        return self.comes_up

    def close(self) -> None:
        self.closed = True


def test_jammed_keys_keep_no_box_from_starting(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bench = bench_of(BOARD)
    box = Started(bench, good_box(bench))
    box.comes_up = False
    nobody = [].append
    monkeypatch.setattr("hardware.own_parts.open_own_box", lambda _board, _mount: (box, nobody, nobody))
    run_at_start(BOARD, tmp_path, Notifier())
    assert box.closed
    assert box.now() == 0


def test_a_whole_test_at_power_on_reports_and_keeps_the_watchdog_calm(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = bench_of(BOARD)
    box = Started(bench, good_box(bench))
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
