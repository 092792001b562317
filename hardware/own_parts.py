"""The parts of the real box for its self-test, and whether that is wanted at power-on."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Final

from firmware.errors import DeviceError, KeelnoteError
from firmware.events import PanelKey
from firmware.ports import Stick
from firmware.screens.frame import Frame
from firmware.selftest.pictures import ALL_LIT
from firmware.selftest.report import report_lines
from firmware.selftest.signals import SupplyRead
from firmware.selftest.walk import Walk
from hardware.board.parts import Board
from hardware.board_facts import board_facts
from hardware.box_under_test import RealBoxUnderTest
from hardware.drivers.clock_chip import CHIPS, known_date
from hardware.drivers.i2c_scan import scan
from hardware.drivers.midi_keyboard import MidiKeyboards
from hardware.drivers.oled import OledScreen, open_oled
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.raw_lines import RawLines
from hardware.drivers.sound_card import PortAudioCard
from hardware.drivers.sound_devices import ByRule
from hardware.drivers.sound_probe import SoundProbe
from hardware.drivers.stick import FolderStick
from hardware.drivers.supply import read_supply
from hardware.selftest import bench_of, run_selftest
from hardware.service.notify import Notifier
from hardware.switch_on import REPORT

STARTING_LINES: Final = tuple(f"key {key}" for key in (PanelKey.COMPARE, PanelKey.REPLAY))
"""Held together while the box starts they ask for the self-test; nobody does that by mistake."""

FLASH_SECONDS: Final = (0.15, 0.85)
"""Lit and dark, while the LED is judged."""

HELD_SECONDS: Final = 1.0
LET_GO_SECONDS: Final = 20.0
"""Keys that stay down for longer are jammed, and ask for nothing: the box starts as ever."""

LOOK_SECONDS: Final = 0.05

ALIVE_SECONDS: Final = 1.0
LONGEST_SECONDS: Final = 900.0
"""All patience of all steps together is less; a self-test that takes longer hangs, and the watchdog may end it."""

FRAME_PATIENCE: Final = 4.0
"""At 10 kHz a picture takes a second."""


class OwnParts:
    """What a board's box is made of.

    Parameters
    ----------
    board : Board
        What is on which pin.
    stick : Stick
        Its stick.
    pins : SharedPins
        Its pin library.
    """

    def __init__(self, board: Board, stick: Stick, pins: SharedPins | None = None) -> None:
        self._board = board
        self._pins = pins or SharedPins()
        self._lit = ExitStack()
        self.stick = stick
        self.lines = RawLines(board, self._pins)
        self.glass = OledScreen(lambda: open_oled(board.screen, self._pins))
        self.sounds = SoundProbe(PortAudioCard(ByRule()))
        self.keyboards = MidiKeyboards()

    def flash(self, *, on: bool) -> None:
        """Let the LED flash shortly once a second, or put it out and let its pin go."""
        from gpiozero import LED  # noqa: PLC0415 - a computer without pins has no gpiozero

        self._lit.close()
        if on:
            with ExitStack() as opened:
                factory = opened.enter_context(self._pins.borrowed())
                led = opened.enter_context(LED(self._board.led.pin, pin_factory=factory))
                led.blink(*FLASH_SECONDS)
                self._lit = opened.pop_all()

    def scan(self) -> tuple[tuple[int, ...], float | None]:
        """Addresses on the I2C bus, and seconds for a picture; raises OSError without a bus."""
        found = scan(self._board.screen.bus)
        return found, self.frame_seconds() if self._board.screen.address in found else None

    def frame_seconds(self) -> float | None:
        """Seconds until a picture is on the glass; None if it never comes there."""
        self.glass.show(Frame())
        if not self.glass.flush(FRAME_PATIENCE):
            return None
        began = time.monotonic()
        self.glass.show(ALL_LIT)
        return time.monotonic() - began if self.glass.flush(FRAME_PATIENCE) else None

    def supply(self, at: int) -> SupplyRead:
        """How the supply is."""
        return read_supply(at)

    def clock(self) -> tuple[bool, bool]:
        """Whether a clock chip is there, and whether its time can be believed."""
        return any(CHIPS.glob("rtc*")), bool(known_date())


def open_own_box(board: Board, mount: Path) -> tuple[RealBoxUnderTest, Callable[[Walk], object], Callable[..., object]]:
    """Take the real box; raises DeviceError without pins. Its verdict is shown, its report goes onto the stick."""
    stick = FolderStick(mount / "KEELNOTE", mounted=True)
    box = RealBoxUnderTest(OwnParts(board, stick))
    box.open()

    def finish(walk: Walk) -> None:
        try:
            box.finish(walk)
        finally:
            box.close()

    return box, finish, lambda lines: keep_report(stick, lines)


def keep_report(stick: Stick, lines: tuple[str, ...]) -> bool:
    """Add a report to report.txt; false if the stick takes none."""
    try:
        for line in lines:
            stick.append_line(REPORT, line)
    except KeelnoteError:
        return False
    return True


def held_at_start(
    lines: RawLines,
    now: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], object] = time.sleep,
) -> bool:
    """Whether the starting keys are held, and go on to be for a second; a box without pins wants nothing."""
    down: dict[str, bool] = {}

    def note(event: object) -> None:
        down[event.line] = event.closed  # type: ignore[attr-defined]  # RawLines posts nothing but LineChanged

    try:
        lines.start(note, int)
    except (DeviceError, ImportError):
        return False
    try:
        began = now()
        while all(down.get(name, False) for name in STARTING_LINES):
            if now() - began >= HELD_SECONDS:
                return True
            sleep(LOOK_SECONDS)
        return False
    finally:
        lines.stop()


def run_at_start(board: Board, mount: Path, notifier: Notifier, ended: Callable[[], bool] = lambda: False) -> None:
    """Run the whole self-test when the box was asked for it; whatever goes wrong, the box starts afterwards.

    `ended` says that the service manager wants the box to stop.
    """
    try:
        box, finish, report = open_own_box(board, mount)
    except KeelnoteError:
        return
    notifier.ready()  # a builder takes minutes, for which no service manager would wait
    notifier.status("Self-test")
    with _alive(notifier):
        if not box.let_go(STARTING_LINES, LET_GO_SECONDS):
            box.close()
            return
        walk = run_selftest(bench_of(board), box, ended=ended)
        report(report_lines(walk, board_facts(board)))
        finish(walk)


@contextmanager
def _alive(notifier: Notifier) -> Iterator[None]:
    """Tell the watchdog that the box lives, for as long as a self-test may take: it waits for hands and slow sticks."""
    ended = threading.Event()

    def tell() -> None:
        for _ in range(round(LONGEST_SECONDS / ALIVE_SECONDS)):
            notifier.alive()
            if ended.wait(ALIVE_SECONDS):
                return

    thread = threading.Thread(target=tell, name="self-test heartbeat", daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()
