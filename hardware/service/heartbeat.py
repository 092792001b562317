"""The box's heartbeat: the service manager hears that it lives only while its sound and its thinking really go on."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Final

from hardware.service.notify import Notifier

FIRST_SECONDS: Final = 0.05
"""Between two looks until the box is ready; what waits for it shall not wait longer than that."""

USUAL_SECONDS: Final = 1.0
"""Between two looks later; four in the time of the watchdog, if it has one."""

Progress = tuple[int, ...]
"""Counts that go up while the box works: samples played, ticks of the Box, samples heard."""


class Heartbeat:
    """Looks at the progress of the box, and tells of it.

    It does not tell that the box lives because this thread does: every count must have gone up since the last time.

    Parameters
    ----------
    notifier
        Who is told.
    progress
        The counts of the moment.
    status
        How the box is, in one line.
    """

    def __init__(self, notifier: Notifier, progress: Callable[[], Progress], status: Callable[[], str]) -> None:
        self._notifier = notifier
        self._progress = progress
        self._status = status
        self._seen: Progress = progress()
        self._said = ""
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)
        self.ready = False

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self) -> None:
        """End; a second call does nothing."""
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join()

    def look(self) -> bool:
        """Look once; whether the box goes on."""
        counts = self._progress()
        moved = all(now > before for now, before in zip(counts, self._seen, strict=True))
        if not moved:
            return False
        self._seen = counts
        if not self.ready:
            self.ready = True
            self._notifier.ready()
        self._notifier.alive()
        status = self._status()
        if status != self._said:
            self._said = status
            self._notifier.status(status)
        return True

    def _run(self) -> None:
        usual = min(USUAL_SECONDS, self._notifier.watchdog_seconds / 4 or USUAL_SECONDS)
        while not self._ended.wait(usual if self.ready else FIRST_SECONDS):
            self.look()
