"""Parts that may come later: tried again until they start, while the box runs without them."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Final

from firmware.errors import DeviceError
from firmware.ports import Now, Panel, Post

RETRY_SECONDS: Final = 2.0


class Patient:
    """Starts something that may not be there yet; its own start never raises.

    Parameters
    ----------
    begin
        Starts it; raises DeviceError while it is not there.
    end
        Stops it, once it has started.
    tell
        Called once with what is missing.
    retry
        Seconds between two tries.
    """

    def __init__(
        self,
        begin: Callable[[], object],
        end: Callable[[], object],
        tell: Callable[[DeviceError], object] = lambda _: None,
        retry: float = RETRY_SECONDS,
    ) -> None:
        self._begin = begin
        self._end = end
        self._tell = tell
        self._retry = retry
        self._told = False
        self._ended = threading.Event()
        self._thread: threading.Thread | None = None
        self.there = False
        """Whether it has started."""

    def start(self) -> None:
        """Start it, or try again and again until it starts."""
        self._ended.clear()
        if not self._try():
            self._thread = threading.Thread(target=self._run, name="part to come", daemon=True)
            self._thread.start()

    def stop(self) -> None:
        """Stop it, or no longer wait for it; a second call does nothing."""
        self._ended.set()
        thread, self._thread = self._thread, None
        if thread is not None:
            thread.join()
        if self.there:
            self.there = False
            self._end()

    def _run(self) -> None:
        while not self._ended.wait(self._retry):
            if self._try():
                return

    def _try(self) -> bool:
        try:
            self._begin()
        except DeviceError as error:
            if not self._told:
                self._told = True
                self._tell(error)
            return False
        self.there = True
        return True


class PatientPanel:
    """Keeps the Panel contract for a panel that may not be there yet; its start never raises.

    Parameters
    ----------
    panel
        The real one, whose start raises DeviceError while it is not there.
    tell
        Called with what is missing.
    retry
        Seconds between two tries.
    """

    def __init__(
        self, panel: Panel, tell: Callable[[DeviceError], object] = lambda _: None, retry: float = RETRY_SECONDS
    ) -> None:
        self._panel = panel
        self._tell = tell
        self._retry = retry
        self._patient: Patient | None = None

    def start(self, post: Post, now: Now) -> None:
        """Start it, or try again and again until it starts."""
        self.stop()
        self._patient = Patient(lambda: self._panel.start(post, now), self._panel.stop, self._tell, self._retry)
        self._patient.start()

    def stop(self) -> None:
        """Stop it, or no longer wait for it; a second call does nothing."""
        patient, self._patient = self._patient, None
        if patient is not None:
            patient.stop()
