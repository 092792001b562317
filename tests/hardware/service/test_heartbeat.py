"""The service manager hears that the box lives only while all of it goes on."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from hardware.service.heartbeat import Heartbeat
from hardware.service.notify import Notifier

Eventually = Callable[..., None]


class Told(Notifier):
    """A notifier that writes down what it says."""

    def __init__(self, watchdog_seconds: float = 0.0) -> None:
        super().__init__("", watchdog_seconds)
        self.lines: list[str] = []

    def _send(self, line: str) -> None:
        self.lines.append(line)


def beating(counts: list[int], told: Told, status: str = "Sound: one") -> Heartbeat:
    return Heartbeat(told, lambda: tuple(counts), lambda: status)


def test_it_is_ready_when_all_of_it_goes_on_and_says_so_once():
    counts, told = [0, 0, 0], Told()
    heart = beating(counts, told)
    assert not heart.look()
    counts[:] = [512, 1, 0]
    assert not heart.look()
    assert told.lines == []
    counts[2] = 512
    assert heart.look()
    assert told.lines == ["READY=1", "WATCHDOG=1", "STATUS=Sound: one"]
    counts[:] = [1024, 2, 1024]
    assert heart.look()
    assert told.lines[3:] == ["WATCHDOG=1"]


@pytest.mark.parametrize("stuck", [0, 1, 2])
def test_whatever_stands_still_is_not_called_alive(stuck: int):
    counts, told = [0, 0, 0], Told()
    heart = beating(counts, told)
    for step in range(1, 5):
        counts[:] = [0 if place == stuck else step for place in range(3)]
        assert not heart.look()
    assert told.lines == []


def test_slow_is_alive_as_long_as_it_moves_in_the_end():
    counts, told = [0, 0], Told()
    heart = beating(counts, told)
    counts[0] = 5
    assert not heart.look()
    counts[1] = 1
    assert heart.look(), "each has moved since the last time that all had"


def test_it_looks_by_itself_four_times_in_the_watchdogs_time(eventually: Eventually):
    told = Told(watchdog_seconds=0.2)
    count = iter(range(10**6))
    heart = Heartbeat(told, lambda: (next(count),), lambda: "well")
    heart.start()
    eventually(lambda: told.lines.count("WATCHDOG=1") > 3, "beats")
    heart.stop()
    heart.stop()
    beats = len(told.lines)
    assert told.lines[0] == "READY=1"
    assert len(told.lines) == beats
