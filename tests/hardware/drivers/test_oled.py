"""What only the real screen meets: loose cables, a bus that is not there, brightness, and never being behind."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import numpy as np
import pytest
import smbus2

from firmware.errors import DeviceError
from firmware.screens.frame import Frame
from hardware.board.table import ScreenPort
from hardware.drivers.oled import BRIGHTNESS, OledScreen, open_oled
from hardware.simulated.oled_chip import SimulatedOledChip

PORT = ScreenPort("ssd1306", 1, 0x3C)


def noise(seed: int) -> Frame:
    return Frame(np.random.default_rng(seed).bytes(1024))


@pytest.fixture
def chip(monkeypatch: pytest.MonkeyPatch) -> SimulatedOledChip:
    made = SimulatedOledChip()
    monkeypatch.setattr(smbus2, "SMBus", made.bus)
    return made


@pytest.fixture
def screen(chip: SimulatedOledChip) -> Iterator[OledScreen]:
    assert chip.plugged
    made = OledScreen(lambda: open_oled(PORT), retry=0.01)
    yield made
    made.stop()


def until(condition: object, timeout: float = 5.0) -> bool:
    end = time.monotonic() + timeout
    while time.monotonic() < end:
        if condition():
            return True
        time.sleep(0.002)
    return False


def test_a_cable_that_comes_off_and_on_again_brings_the_latest_picture_back(
    screen: OledScreen, chip: SimulatedOledChip
) -> None:
    screen.start()
    screen.show(noise(1))
    assert screen.flush(5.0)
    chip.plugged = False
    screen.show(noise(2))
    assert until(lambda: screen.error)
    assert "0x3c of I2C bus 1" in screen.error
    assert not screen.flush(0.02)
    screen.show(noise(3))
    chip.reset()  # no power over a cable that is off
    chip.plugged = True
    assert screen.flush(5.0)
    assert chip.picture() == noise(3)
    assert screen.error == ""


def test_a_panel_that_is_missing_at_first_is_found_later(screen: OledScreen, chip: SimulatedOledChip) -> None:
    chip.plugged = False
    screen.start()
    screen.show(noise(4))
    assert until(lambda: screen.error.startswith("screen"))
    chip.plugged = True
    assert screen.flush(5.0)
    assert chip.picture() == noise(4)


def test_what_was_shown_before_the_start_is_on_the_glass_after_it(screen: OledScreen, chip: SimulatedOledChip) -> None:
    screen.show(noise(5))
    screen.start()
    assert screen.flush(5.0)
    assert chip.picture() == noise(5)


def test_show_returns_at_once_while_the_wire_is_slow_and_only_the_newest_waits() -> None:
    gate = threading.Event()
    written: list[Frame] = []

    class SlowGlass:
        def write(self, frame: Frame) -> None:
            gate.wait(5.0)
            written.append(frame)

        def contrast(self, level: int) -> None:
            assert level

        def renew(self) -> None:
            pass

        def close(self) -> None:
            pass

    screen = OledScreen(SlowGlass)
    screen.start()
    began = time.monotonic()
    for seed in range(100):
        screen.show(noise(seed))
    assert time.monotonic() - began < 1.0
    gate.set()
    assert screen.flush(5.0)
    screen.stop()
    assert written[-1] == noise(99)
    assert len(written) <= 2
    assert screen.replaced >= 98


@pytest.mark.parametrize(("step", "level"), [(1, BRIGHTNESS[0]), (5, BRIGHTNESS[4]), (0, BRIGHTNESS[0]), (9, 255)])
def test_brightness_reaches_the_chip_and_keeps_the_picture(
    screen: OledScreen, chip: SimulatedOledChip, step: int, level: int
) -> None:
    screen.start()
    screen.show(noise(6))
    assert screen.flush(5.0)
    shown = screen.shown
    screen.dim(step)
    assert screen.flush(5.0)
    assert (chip.contrast, chip.picture(), screen.shown) == (level, noise(6), shown)


def test_start_and_stop_may_be_called_twice_and_leave_no_thread(screen: OledScreen) -> None:
    before = threading.active_count()
    screen.start()
    screen.start()
    assert threading.active_count() == before + 1
    screen.stop()
    screen.stop()
    assert threading.active_count() == before


def test_what_is_shown_last_before_the_end_is_on_the_glass_after_it(
    screen: OledScreen, chip: SimulatedOledChip
) -> None:
    screen.start()
    screen.show(noise(1))
    assert screen.flush(5.0)
    for seed in range(2, 30):
        screen.show(noise(seed))
        screen.stop()
        assert chip.picture() == noise(seed)
        screen.start()


def test_stopping_does_not_wait_for_a_panel_that_is_gone(chip: SimulatedOledChip) -> None:
    chip.plugged = False
    screen = OledScreen(lambda: open_oled(PORT), retry=60.0)
    screen.start()
    assert until(lambda: screen.error.startswith("screen"))
    began = time.monotonic()
    screen.stop()
    assert time.monotonic() - began < 5.0


def test_a_bus_that_is_not_there_is_named(chip: SimulatedOledChip) -> None:
    assert chip.plugged
    with pytest.raises(DeviceError, match="bus -1"):
        open_oled(ScreenPort("ssd1306", -1, 0x3C))


def test_no_byte_is_sent_for_equal_frames(screen: OledScreen, chip: SimulatedOledChip) -> None:
    screen.start()
    screen.show(noise(1))
    assert screen.flush(5.0)
    sent = chip.sent
    for _ in range(1000):
        screen.show(Frame(bytes(noise(1).bits)))
    time.sleep(0.05)
    assert chip.sent == sent
    assert screen.skipped == 1000


def test_a_module_that_lost_its_power_for_a_moment_shows_its_picture_again(chip: SimulatedOledChip) -> None:
    screen = OledScreen(lambda: open_oled(PORT), retry=0.01, renew=0.05)
    screen.start()
    screen.dim(2)
    screen.show(noise(1))
    assert screen.flush(5.0)
    shown = screen.shown
    chip.reset()  # it answers as before, but is dark and full of noise
    assert until(lambda: chip.picture() == noise(1))
    assert until(lambda: chip.contrast == BRIGHTNESS[1])
    assert screen.shown == shown
    screen.stop()


def test_renewing_it_is_not_seen(chip: SimulatedOledChip, monkeypatch: pytest.MonkeyPatch) -> None:
    screen = OledScreen(lambda: open_oled(PORT), retry=0.01, renew=0.02)
    screen.show(noise(1))
    screen.start()
    assert screen.flush(5.0)
    seen = []
    take = chip.take

    def watch(control: int, body: bytes) -> None:
        take(control, body)
        seen.append(chip.picture() == noise(1))

    monkeypatch.setattr(chip, "take", watch)
    assert until(lambda: screen.renewed >= 3)
    screen.stop()
    assert len(seen) >= 9
    assert all(seen)


def test_a_fault_of_a_library_darkens_the_glass_and_ends_nothing() -> None:
    tries = iter([AttributeError("no such offset"), ZeroDivisionError("none")])

    class Odd:
        def write(self, _frame: Frame) -> None:
            raise next(tries, DeviceError("screen", "odd", "it must answer"))

        def contrast(self, _level: int) -> None:
            pass

        def renew(self) -> None:
            pass

        def close(self) -> None:
            raise OSError("the bus is gone")

    screen = OledScreen(Odd, retry=0.01)
    screen.start()
    assert until(lambda: "ZeroDivisionError" in screen.error)
    assert until(lambda: "must answer" in screen.error)
    screen.stop()


@pytest.mark.parametrize("byte", [0, 1, 5, 30, 40, 1000, 1070, 1110, 2000])
def test_a_wire_that_breaks_in_the_middle_is_mended_by_the_screen_itself(
    screen: OledScreen, chip: SimulatedOledChip, byte: int
) -> None:
    chip.breaks_after = byte
    screen.start()
    screen.show(noise(7))
    screen.dim(5)
    if chip.breaks_after is not None and not until(lambda: screen.error.startswith("screen"), 0.2):
        screen.show(noise(8))
    assert until(lambda: screen.error.startswith("screen"))
    chip.breaks_after = None
    screen.show(noise(9))
    assert screen.flush(5.0)
    assert (chip.picture(), chip.contrast, screen.error) == (noise(9), BRIGHTNESS[4], "")
