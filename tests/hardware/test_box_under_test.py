"""The whole self-test on the real drivers: pins on a model of the wiring, sound on a simulated card, time made."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from firmware.errors import DeviceError
from firmware.ports import Post
from firmware.screens.frame import Frame
from firmware.selftest.ask import Ask, Do
from firmware.selftest.pictures import ALL_LIT, picture, verdict
from firmware.selftest.signals import BusScanned, KeyboardsFound, Probe, SoundRecorded, SupplyRead
from firmware.selftest.sound_figures import played
from firmware.selftest.steps import STEPS
from firmware.selftest.walk import Walk
from firmware.units import RATE
from hardware.board.table import own_board
from hardware.box_under_test import LET_GO, RealBoxUnderTest
from hardware.drivers.pin_factory import SharedPins
from hardware.drivers.raw_lines import RawLines
from hardware.drivers.sound_probe import SoundProbe
from hardware.selftest import bench_of, run_selftest
from hardware.simulated.board import SimulatedLines
from hardware.simulated.board_faults import FAULTS, fault_named
from hardware.simulated.builder import SimulatedBuilder
from hardware.simulated.faulty_box import FaultyBox, good_box
from hardware.simulated.sound_card import SimulatedSoundCard
from hardware.simulated.sound_path import heard_through
from hardware.simulated.stick import SimulatedStick
from tests.hardware.drivers.wired_pins import follow, wired_factory

BOARD = own_board()
BENCH = bench_of(BOARD)


class Glass:
    """Keeps what it was shown."""

    def __init__(self) -> None:
        self.shown: list[Frame] = []

    def start(self) -> None:
        """Nothing to begin."""

    def stop(self) -> None:
        """Nothing to end."""

    def show(self, frame: Frame) -> None:
        self.shown.append(frame)


class Keys:
    """The keyboard of a box: posts what is played on it."""

    def __init__(self, box: FaultyBox) -> None:
        self.box = box
        self.post: Post | None = None

    def start(self, post: Post, _now: Callable[[], int]) -> None:
        self.post = post

    def stop(self) -> None:
        self.post = None

    def found(self, at: int) -> KeyboardsFound:
        return KeyboardsFound(at, (self.box.keyboard,) if self.box.keyboard else ())


class MadeParts:
    """A box of real drivers on simulated things; each look for a recording lets some time pass."""

    def __init__(self, box: FaultyBox, folder: Path, *, card: bool = True) -> None:
        self.box = box
        self.model = SimulatedLines(BENCH, box.wiring)
        self.factory = wired_factory(BOARD, self.model)
        self.lines = RawLines(BOARD, SharedPins(lambda: self.factory), sleep=lambda _seconds: None)
        self.glass = Glass()
        self.card = SimulatedSoundCard(present=card)
        self.probe = SoundProbe(self.card)
        self.stick = SimulatedStick(folder / "KEELNOTE")
        self.builder = SimulatedBuilder(BENCH, box, self.model)
        self.keyboards = Keys(box)
        self.passed = 0
        self.flashes: list[bool] = []
        self.no_bus = ""
        self.listening = False

    @property
    def sounds(self) -> MadeParts:
        return self

    def seconds(self) -> float:
        return self.passed / RATE

    def start(self) -> None:
        self.probe.start()

    def stop(self) -> None:
        self.probe.stop()

    def tone(self, *, on: bool) -> None:
        self.listening = on
        self.probe.tone(on=on)

    def record(self) -> None:
        self.card.feed(heard_through(self.box.sound, played()))
        self.probe.record()
        self.listening = True

    def recorded(self, at: int) -> SoundRecorded | None:
        """Let time pass for hands and card."""
        until = self.passed + RATE // 25
        while self.builder.due is not None and self.builder.due <= until:
            self.passed = max(self.passed, self.builder.due)
            self.builder.move(self.passed)
            follow(self.factory, BOARD)
            for event in self.builder.played():
                assert self.keyboards.post is not None
                self.keyboards.post(event)
        self.passed = until
        if self.listening:
            self.card.run(4)
        return self.probe.recorded(at)

    def flash(self, *, on: bool) -> None:
        self.flashes.append(on)

    def scan(self) -> tuple[tuple[int, ...], float | None]:
        if self.no_bus:
            raise OSError(2, self.no_bus)
        return self.box.addresses, 0.024

    def supply(self, at: int) -> SupplyRead:
        return SupplyRead(at, self.box.low_now, self.box.low_before, self.box.celsius)

    def clock(self) -> tuple[bool, bool]:
        return True, True


def walked(parts: MadeParts, skip: frozenset[str] = frozenset()) -> Walk:
    """The whole self-test with a builder."""
    box = RealBoxUnderTest(parts, parts.seconds, patience=0.0)
    box.open()

    begin = box.begin

    def told(ask: Ask) -> None:
        begin(ask)
        parts.builder.asked(ask, box.now())

    box.begin = told  # type: ignore[method-assign] - the box is watched from outside
    try:
        walk = run_selftest(BENCH, box, skip)
        box.finish(walk)
    finally:
        box.close()
    return walk


def faulty(*names: str) -> FaultyBox:
    """A box with some faults."""
    box = good_box(BENCH)
    for name in names:
        fault_named(name).change(box)
    return box


def test_a_good_box_is_named_nothing_and_its_picture_says_so(tmp_path: Path) -> None:
    parts = MadeParts(good_box(BENCH), tmp_path)
    walk = walked(parts)
    assert walk.findings == ()
    assert parts.glass.shown[-1] == verdict(())
    assert ALL_LIT in parts.glass.shown
    assert True in parts.flashes
    assert parts.flashes[-1] is False
    (recorded,) = [event for one in walk.done for event in one.events if isinstance(event, SoundRecorded)]
    assert len(recorded.mic) == len(played())


WIRING = [
    fault.name for fault in FAULTS if fault.touches <= {line.name for line in BENCH.lines} and "noise" not in fault.name
]


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.long if number % 4 else ()) for number, name in enumerate(WIRING)]
)
def test_each_fault_of_the_wiring_is_named_by_the_real_driver(tmp_path: Path, name: str) -> None:
    parts = MadeParts(faulty(name), tmp_path)
    (one,) = walked(parts, frozenset({"sound", "stick", "supply"})).findings
    assert one.code == fault_named(name).code
    assert parts.glass.shown[-1] == verdict((one,))


def test_a_box_without_a_sound_card_or_bus_says_why(tmp_path: Path) -> None:
    parts = MadeParts(good_box(BENCH), tmp_path, card=False)
    parts.no_bus = "there is no such bus"
    parts.stick.pull_out()
    walk = walked(parts)
    assert [one.code for one in walk.findings] == ["bus-off", "stick-out", "no-sound-card"]
    assert dict(walk.findings[0].values)["error"] == "there is no such bus"
    assert any(isinstance(event, BusScanned) and event.error for one in walk.done for event in one.events)


@pytest.mark.parametrize(
    ("does", "found"), [("plays", []), ("silent", ["keyboard-silent"]), ("goes", ["keyboard-gone"])]
)
def test_a_keyboard_that_is_plugged_in_is_played(tmp_path: Path, does: str, found: list[str]) -> None:
    box = good_box(BENCH)
    box.keyboard, box.keyboard_does = "Little keys", does
    walk = walked(MadeParts(box, tmp_path), frozenset(step.name for step in STEPS) - {"contacts", "keyboards"})
    assert [one.code for one in walk.findings] == found


def test_a_key_ends_the_verdict(tmp_path: Path) -> None:
    parts = MadeParts(good_box(BENCH), tmp_path)
    box = RealBoxUnderTest(parts, parts.seconds, patience=0.0)
    box.open()
    parts.builder.asked(Ask("x", Do.PRESS, subject="key Drone"), box.now())
    before = parts.seconds()
    box.finish(run_selftest(BENCH, box, frozenset(step.name for step in STEPS)))
    assert parts.seconds() - before < 1.0
    box.close()
    box.close()


@pytest.mark.parametrize(("seconds", "gone"), [(1.0, True), (30.0, False)])
def test_keys_that_began_it_must_come_up(tmp_path: Path, seconds: float, gone: bool) -> None:  # noqa: FBT001 - a row
    parts = MadeParts(good_box(BENCH), tmp_path)
    box = RealBoxUnderTest(parts, parts.seconds, patience=0.0)
    for key in ("key Compare", "key Replay"):
        parts.model.press(key, down=True)
    box.open()
    for key in ("key Compare", "key Replay"):
        parts.builder.asked(Ask("x", Do.LET_GO, subject=key), round(seconds * RATE))
    assert box.let_go(("key Compare", "key Replay"), 20.0) is gone
    assert parts.glass.shown[0] == picture(LET_GO)
    box.close()


def test_keys_that_are_up_already_need_no_patience(tmp_path: Path) -> None:
    parts = MadeParts(good_box(BENCH), tmp_path)
    box = RealBoxUnderTest(parts, parts.seconds, patience=0.0)
    box.open()
    assert box.let_go(("key Compare",), 20.0)
    assert parts.seconds() < 0.1
    box.close()


def test_without_pins_nothing_can_be_tested(tmp_path: Path) -> None:
    class NoLines:
        def start(self, _post: Post, _now: Callable[[], int]) -> None:
            raise DeviceError("pins", "none", "a Raspberry Pi is needed")

        def stop(self) -> None:
            """Nothing to end."""

        def probe(self) -> tuple[Probe, ...]:
            return ()

    parts = MadeParts(good_box(BENCH), tmp_path)
    parts.lines = NoLines()  # type: ignore[assignment] - a part that is not there
    with pytest.raises(DeviceError):
        RealBoxUnderTest(parts).open()
