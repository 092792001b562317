"""A box whose parts come in any order: whatever is missing when it is switched on, it starts, and takes each up."""

from __future__ import annotations

import itertools
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from firmware.errors import DeviceError
from firmware.events import Event, PanelKey
from firmware.keyboard_events import KeyboardChanged
from firmware.ports import Now, Post
from firmware.screens.frame import Frame
from hardware.desk import live_box
from hardware.device import Devices, run_box
from hardware.drivers.oled import OledScreen
from hardware.drivers.patient import PatientPanel
from hardware.live_loop import LiveLoop
from hardware.simulated.keyboard import SimulatedKeyboard
from hardware.simulated.panel import SimulatedPanel
from hardware.simulated.sound_card import SimulatedSoundCard
from hardware.simulated.stick import SimulatedStick

PARTS = ("sound card", "screen", "panel", "stick", "clock", "keyboard")
PATIENCE = 20.0
RETRY = 0.05
AT_ONCE = 8
"""Boxes that run beside each other; most of the time each of them waits."""


class Glass:
    """What the OLED's driver writes to."""

    def __init__(self) -> None:
        self.frames = 0

    def write(self, frame: Frame) -> None:
        assert isinstance(frame, Frame)
        self.frames += 1

    def contrast(self, level: int) -> None:
        assert 0 <= level <= 255

    def close(self) -> None:
        pass


class LatePanel(SimulatedPanel):
    """A panel whose pins may not be there yet."""

    pins = False

    def start(self, post: Post, now: Now) -> None:
        if not self.pins:
            raise DeviceError("pins", "of this machine", "a Raspberry Pi is needed")
        super().start(post, now)


class Rig:
    """Everything a box runs on, of which some parts are there."""

    def __init__(self, folder: Path, there: Sequence[str]) -> None:
        self.card = SimulatedSoundCard(present="sound card" in there)
        self.glass = Glass()
        self.lit = "screen" in there
        self.panel = LatePanel()
        self.panel.pins = "panel" in there
        self.stick = SimulatedStick(folder / "KEELNOTE")
        (folder / "KEELNOTE/rehearsals/0006").mkdir(parents=True)
        if "stick" not in there:
            self.stick.pull_out()
        self.date = "2026-11-25" if "clock" in there else ""
        self.keyboard = SimulatedKeyboard()
        if "keyboard" in there:
            self.keyboard.plug_in()
        self.dated = ""
        """The date when the box was put together."""
        self.folder = folder
        self.loop: LiveLoop | None = None
        self.events: list[Event] = []
        self.devices = Devices(
            self.stick,
            OledScreen(self._open, retry=RETRY),
            PatientPanel(self.panel, retry=RETRY),
            self.card,
            keyboard=self.keyboard,
            date=lambda: self.date,
        )

    def _open(self) -> Glass:
        if not self.lit:
            raise DeviceError("screen", "SSD1306", "it does not answer")
        return self.glass

    def box(self, *values: object, **names: object) -> LiveLoop:
        """Put a box together, and listen to what its drivers post."""
        self.dated = self.date
        loop = self.loop = live_box(*values, **names)  # type: ignore[arg-type] - handed on as they came
        post = loop.post

        def tell(event: Event) -> None:
            self.events.append(event)
            post(event)

        loop.post = tell  # type: ignore[method-assign] - the same, written down
        return loop

    def bring(self, part: str) -> None:
        """Let a part come."""
        match part:
            case "sound card":
                self.card.put_back()
            case "screen":
                self.lit = True
            case "panel":
                self.panel.pins = True
            case "stick":
                self.stick.put_back()
            case "clock":
                self.date = "2026-11-25"
            case "keyboard":
                self.keyboard.plug_in()

    def takes_up(self, part: str) -> bool:
        """Whether the box uses a part now."""
        assert self.loop is not None
        match part:
            case "sound card":
                return self.loop.card.sounding
            case "screen":
                return self.glass.frames > 0
            case "panel":
                before = len(self.events)
                self.panel.press(PanelKey.COMPARE)
                self.panel.release(PanelKey.COMPARE)
                return len(self.events) > before
            case "stick":
                return any(self.folder.glob("KEELNOTE/rehearsals/0007*/log.jsonl"))
            case "keyboard":
                return any(isinstance(event, KeyboardChanged) and event.present for event in self.events)
            case _:
                return bool(self.date)  # read when a rehearsal is begun: with the stick, or at the next start


def until(reached: Callable[[], object], what: str) -> None:
    deadline = time.monotonic() + PATIENCE
    while not reached():
        assert time.monotonic() < deadline, f"never came: {what}"
        time.sleep(0.01)


def start_and_complete(folder: Path, there: Sequence[str], order: Sequence[str]) -> None:
    """Switch a box on with some parts, see that it runs, let the others come in an order, and see each taken up."""
    folder.mkdir()
    rig = Rig(folder, there)
    over = threading.Event()

    def card_runs() -> None:
        while not over.wait(rig.card.block / rig.card.rate):
            rig.card.run(1)

    driver = threading.Thread(target=card_runs)
    driver.start()

    def go_on(early: Callable[[], bool]) -> None:
        assert rig.loop is not None
        loop = rig.loop
        begun = loop.progress
        until(lambda: all(now > then for now, then in zip(loop.progress, begun, strict=True)), f"life with {there}")
        for part in order:
            if part not in there:
                rig.bring(part)
            if part == "stick" and early():
                return  # it begins anew, with what is on the stick
            until(lambda part=part: rig.takes_up(part), f"{part}, of {order}, with {there}")  # type: ignore[misc] - mypy knows no defaults of lambdas

    try:
        assert run_box(rig.devices, rig.box, go_on) == 0
        assert rig.loop is not None
        assert rig.loop.faults == 0, rig.loop.last_fault
    finally:
        over.set()
        driver.join()
    (made,) = folder.glob("KEELNOTE/rehearsals/0007*")
    assert made.name == f"0007 {rig.dated}".rstrip()
    late = order.index("clock") > order.index("stick") or "stick" in there
    assert bool(rig.dated) == ("clock" in there or not late)


@pytest.mark.parametrize("step", [7, pytest.param(1, marks=pytest.mark.long)])
def test_it_starts_with_any_of_its_parts_and_takes_up_the_others(step: int) -> None:
    every = [there for count in range(len(PARTS) + 1) for there in itertools.combinations(PARTS, count)]
    assert len(every) == 2 ** len(PARTS)
    every = every[::step]
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(AT_ONCE) as pool:
        done = []
        for number, there in enumerate(every):
            first = number % len(PARTS)  # another part comes first each time
            order = PARTS[first:] + PARTS[:first]
            done.append(pool.submit(start_and_complete, Path(folder) / str(number), there, order))
        for one in done:
            one.result()
