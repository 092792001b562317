"""Takes and a stick in any order: start, stop, pull, return, lock, fill, empty, power cut; nothing is lost.

The bound of the loss: without a power cut none at all; with one, what was heard since the last sync, 1.2 s at most.
Only when the box's card is full as well does a take end early, with a word, and what memory holds need the power. The
machine has no threads and its own clock, so a failure is found again from its seed and shrinks.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from firmware.commands import OpenTake
from firmware.events import Event, Fault
from firmware.take_events import TakeSaved
from firmware.takes.recorder import BURST, Recorder
from firmware.units import RATE, Samples
from hardware.drivers.disk_thread import DiskThread
from hardware.drivers.take_spool import Spool
from hardware.simulated.stick import SimulatedStick

FOLDER = "rehearsals/0001"
BLOCK = 4000
LOST = round(1.2 * RATE)


def microphone(first: int, end: int) -> Samples:
    """Every sample says its own number, exact in 24 bits for 174 s and then again."""
    return (np.arange(first, end) % (2**23 - 1) / 2**23).astype(np.float32)


class Fate(RuleBasedStateMachine):
    """A box without a sound card, whose stick suffers what hands and time do to it."""

    @initialize(channels=st.sampled_from([1, 2]), part=st.sampled_from([0, RATE, 3 * RATE + 7]), room=st.booleans())
    def switch_on_first(self, channels: int, part: int, room: bool) -> None:  # noqa: FBT001 - a drawn value
        self.root = Path(tempfile.mkdtemp())
        self.channels, self.part = channels, part
        self.card_limit = 10**9 if room else 3_000_000
        self.stick = SimulatedStick(self.root / "stick" / "KEELNOTE")
        self.takes: dict[int, tuple[int, int | None]] = {}
        self.saved: dict[int, int] = {}
        self.cut: dict[int, int] = {}
        self.ended: set[int] = set()
        self.pressed: dict[int, int] = {}
        self.heard = 0
        self.switch_on()

    def switch_on(self) -> None:
        self.began = self.heard
        self.recorder = Recorder()
        self.events: list[Event] = []
        spool = Spool(self.root / "card", self.card_limit, free=lambda _: 10**10, fsync=lambda _: None)
        self.disk = DiskThread(self.stick, self.events.append, lambda: self.began + self.recorder.now, spool=spool)
        self.running: int | None = None

    def hear(self, samples: int) -> None:
        for at in range(self.heard, self.heard + samples, BLOCK):
            block = microphone(at, min(at + BLOCK, self.heard + samples))
            for chunk in self.recorder.process(block, -block):
                self.disk.submit(chunk)
            self.disk.pump()
        self.heard += samples
        for event in self.events:
            if isinstance(event, TakeSaved):
                self.saved[event.number] = event.samples
            if isinstance(event, Fault) and event.message in {"spool-full", "take-lost"}:
                assert self.card_limit < 10**9, event
                self.ended |= {number for number in self.takes if number not in self.saved}
        self.events.clear()

    @precondition(lambda self: self.running is None)
    @rule(back=st.integers(0, 2 * RATE))
    def start(self, back: int) -> None:
        number = len(self.takes) + 1
        first = max(self.began, self.heard - back)
        self.takes[number] = (first, None)
        self.running = number
        self.pressed[number] = self.heard
        path = f"{FOLDER}/take-{number:02d}.flac"
        self.disk.submit(OpenTake(number, path, first - self.began, self.channels, self.part))
        self.recorder.start(number, first - self.began, self.channels)

    @precondition(lambda self: self.running is not None)
    @rule()
    def stop(self) -> None:
        assert self.running is not None
        self.takes[self.running] = (self.takes[self.running][0], self.heard)
        self.recorder.stop(self.heard - self.began)
        self.running = None
        self.hear(BURST)

    @rule(tenths=st.integers(1, 60))
    def play(self, tenths: int) -> None:
        self.hear(tenths * RATE // 10)

    @rule(told=st.booleans())
    def pull_out(self, told: bool) -> None:  # noqa: FBT001 - a drawn value
        self.stick.pull_out(told=told)

    @rule()
    def put_back(self) -> None:
        self.stick.put_back()

    @rule(locked=st.booleans())
    def lock(self, locked: bool) -> None:  # noqa: FBT001 - a drawn value
        self.stick.make_read_only(locked=locked)

    @rule(room=st.sampled_from([0, 50_000, 500_000, 10**9]))
    def fill_up(self, room: int) -> None:
        self.stick.fill_up(room)

    @rule(tenths=st.integers(1, 50))
    def stall(self, tenths: int) -> None:
        """While a stick stalls nobody writes; the sound waits in the queue."""
        samples = tenths * RATE // 10
        for at in range(self.heard, self.heard + samples, BLOCK):
            block = microphone(at, min(at + BLOCK, self.heard + samples))
            for chunk in self.recorder.process(block, -block):
                assert self.disk.submit(chunk), "five seconds find room in the queue"
        self.heard += samples
        self.disk.pump()
        self.hear(0)

    @rule()
    def cut_power(self) -> None:
        """All at once; the stick and the card keep what was synced, here all that was written to the card."""
        self.stick.pull_out()
        if self.running is not None:
            self.takes[self.running] = (self.takes[self.running][0], self.heard)
        for number in self.takes:
            if number not in self.saved:
                # A take that has just begun is in memory only, with its pre-roll.
                young = self.heard - self.pressed[number] < LOST
                first, end = self.takes[number]
                self.cut[number] = max(self.cut.get(number, 0), (end or self.heard) - first if young else LOST)
                if self.card_limit < 10**9:
                    self.ended.add(number)
        self.switch_on()

    @rule()
    def switch_off(self) -> None:
        if self.running is not None:
            self.stop()
        for chunk in self.recorder.flush():
            self.disk.submit(chunk)
        self.disk.stop()
        self.hear(0)
        self.switch_on()

    @invariant()
    def what_was_told_to_be_safe_is_whole(self) -> None:
        if not hasattr(self, "stick") or not self.stick.present:
            return
        for number, samples in self.saved.items():
            first, end = self.takes[number]
            assert end is not None
            assert samples == max(1, end - first) or number in self.ended

    def teardown(self) -> None:
        """Put all right again, switch on once more, and compare every take with what was heard."""
        if not hasattr(self, "stick"):
            return
        try:
            self.put_back()
            self.lock(locked=False)
            self.fill_up(10**10)
            self.switch_off()
            for _ in range(8):
                self.hear(RATE)
            self.check_takes()
        finally:
            shutil.rmtree(self.root)

    def check_takes(self) -> None:
        for number, (first, end) in self.takes.items():
            assert end is not None
            path = f"{FOLDER}/take-{number:02d}.flac"
            names = self.stick.names(FOLDER)
            there = any(name.startswith(f"take-{number:02d}") for name in names)
            kept = self.stick.read_take(path, 0, 10**9) if there else np.zeros(0, np.float32)
            missing = end - first - len(kept)
            assert missing <= self.cut.get(number, 0) or number in self.ended, (number, missing, names)
            if end > first:
                assert len(kept) <= max(1, end - first)
                assert np.array_equal(kept, microphone(first, first + len(kept))), (number, names)


Fate.TestCase.settings = settings(max_examples=15, stateful_step_count=25, deadline=None)
TestFate = Fate.TestCase
