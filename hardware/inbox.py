"""The bounded queue of events that every driver posts to and the Box reads from."""

from __future__ import annotations

import queue
from typing import Final

from firmware.events import Event

LIMIT: Final = 4096
"""Events that may wait: minutes of normal use. More means that the Box is stuck."""


class Inbox:
    """Events on their way to the Box; a full one drops the newest and counts it.

    Parameters
    ----------
    limit : int
        Events that may wait.
    """

    def __init__(self, limit: int = LIMIT) -> None:
        self._limit = limit
        self._events: queue.SimpleQueue[Event] = queue.SimpleQueue()
        self.dropped = 0

    def __len__(self) -> int:
        return self._events.qsize()

    def post(self, event: Event) -> None:
        """Add an event, from any thread; never waits."""
        if self._events.qsize() >= self._limit:
            self.dropped += 1
            return
        self._events.put(event)

    def next(self, seconds: float) -> Event | None:
        """Give the oldest event, waiting at most so many seconds for one."""
        try:
            return self._events.get(timeout=max(0.0, seconds))
        except queue.Empty:
            return None
