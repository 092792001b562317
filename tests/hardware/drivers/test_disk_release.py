"""A stick is let go when all is written, never in mid-take, and what comes after it waits without a word."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firmware.commands import AppendLine, OpenTake, ReleaseStick
from firmware.events import Event, Fault
from firmware.take_events import StickChanged
from firmware.takes.recorder import Chunk
from firmware.units import RATE
from hardware.drivers.disk_thread import DiskThread
from hardware.simulated.stick import SimulatedStick


class Bench:
    """A disk on a simulated stick, with a clock that stands until it is moved."""

    def __init__(self, root: Path) -> None:
        self.stick = SimulatedStick(root / "KEELNOTE")
        self.events: list[Event] = []
        self.now = 0
        self.disk = DiskThread(self.stick, self.events.append, lambda: self.now)
        self.second()

    def second(self) -> None:
        self.now += RATE
        self.disk.pump()

    def told(self) -> list[str]:
        """Faults and what was said of the stick, since this was asked last."""
        said = [
            event.message if isinstance(event, Fault) else event.why
            for event in self.events
            if isinstance(event, Fault | StickChanged)
        ]
        self.events.clear()
        return [one for one in said if one]

    def line(self, text: str) -> None:
        self.disk.submit(AppendLine("log.jsonl", text))

    def lines(self) -> list[str]:
        return (self.stick.root / "log.jsonl").read_text(encoding="utf-8").splitlines()


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_what_was_asked_for_before_is_written_first(bench: Bench) -> None:
    bench.line("one")
    bench.disk.submit(ReleaseStick())
    bench.line("two")
    bench.second()
    assert bench.told() == ["stick-released"]
    assert bench.lines() == ["one"]
    assert not bench.stick.present


def test_what_comes_after_it_waits_unsaid_and_is_written_when_the_stick_is_back(bench: Bench) -> None:
    bench.line("one")
    bench.disk.submit(ReleaseStick())
    bench.second()
    bench.told()
    for text in ("two", "three"):
        bench.line(text)
        bench.second()
    assert bench.told() == []
    bench.stick.pull_out()
    bench.second()
    assert bench.told() == ["stick-out"]
    bench.stick.put_back()
    bench.second()
    bench.second()
    assert bench.lines() == ["one", "two", "three"]
    assert bench.stick.present  # and it is not let go a second time


def test_in_mid_take_it_is_not_let_go(bench: Bench) -> None:
    bench.disk.submit(OpenTake(1, "take-01.flac", 0))
    bench.disk.submit(Chunk(1, 0, np.zeros(RATE, dtype=np.float32), last=False))
    bench.disk.submit(ReleaseStick())
    bench.second()
    assert bench.told() == ["stick-busy"]
    assert bench.stick.present
    bench.disk.submit(Chunk(1, RATE, np.zeros(RATE, dtype=np.float32), last=True))
    bench.disk.submit(ReleaseStick())
    bench.second()
    assert bench.told() == ["stick-released"]
    assert len(SimulatedStick(bench.stick.root).read_take("take-01.flac", 0, 10 * RATE)) == 2 * RATE


def test_without_a_stick_it_says_so_and_lets_none_go_that_comes_later(bench: Bench) -> None:
    bench.stick.pull_out()
    bench.disk.submit(ReleaseStick())
    bench.second()
    assert bench.told().count("stick-out") >= 1
    bench.stick.put_back()
    bench.second()
    assert bench.stick.present
