"""Helpers of the tests that run threads: a simulated card that calls back by itself, and waiting without guessing."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator

import pytest

from hardware.simulated.sound_card import SimulatedSoundCard

PATIENCE = 10.0


class RunningCard(SimulatedSoundCard):
    """A simulated card whose time passes on a thread, two times as fast as real time."""

    def __init__(self, *, present: bool = True) -> None:
        super().__init__(present=present)
        self.pause = threading.Event()
        self._over = threading.Event()
        self._driver = threading.Thread(target=self._drive, daemon=True)
        self._driver.start()

    def _drive(self) -> None:
        while not self._over.wait(self.block / self.rate / 2):
            if not self.pause.is_set():
                self.run(1)

    def end(self) -> None:
        """End the thread."""
        self._over.set()
        self._driver.join()


def wait_until(reached: Callable[[], object], what: str = "") -> None:
    """Wait until something is so; fail after ten seconds."""
    deadline = time.monotonic() + PATIENCE
    while not reached():
        assert time.monotonic() < deadline, f"never came: {what}"
        time.sleep(0.005)


@pytest.fixture
def eventually() -> Callable[..., None]:
    return wait_until


@pytest.fixture
def card() -> Iterator[RunningCard]:
    running = RunningCard()
    yield running
    running.end()


@pytest.fixture
def absent_card() -> Iterator[RunningCard]:
    running = RunningCard(present=False)
    yield running
    running.end()
