"""The box's OLED, served by a thread of its own: a frame takes 23 ms on the wire, and a loose cable takes for ever."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Final, Protocol

from firmware.errors import DeviceError
from firmware.screens.frame import Frame
from hardware.board.table import ScreenPort

RETRY_SECONDS: Final = 2.0
"""How often a panel that does not answer is tried again."""

BRIGHTNESS: Final = (1, 40, 100, 170, 255)
"""Contrast of the chip for the setting's five steps; the eye wants about equal ratios at the dark end."""


class Glass(Protocol):
    """A panel that answers; every method raises DeviceError when it does not."""

    def write(self, frame: Frame) -> None:
        """Put a picture on the glass."""

    def contrast(self, level: int) -> None:
        """Set the brightness, 0 to 255."""

    def close(self) -> None:
        """Let it go."""


def open_oled(port: ScreenPort) -> Glass:
    """The panel at a port; raises DeviceError when it does not answer."""
    try:
        from hardware.drivers.oled_chip import OledPanel  # noqa: PLC0415 - luma is only there on the box
    except ImportError as error:
        raise DeviceError("screen", port.chip, f"luma.oled must be installed ({error})") from error
    return OledPanel(port)


class OledScreen:
    """Shows the latest frame; keeps the Screen contract.

    A frame that comes while another is on the wire replaces one that waits: the glass is never behind by more than one.
    A dead panel is tried again every two seconds, and gets the latest frame when it answers.

    Parameters
    ----------
    opening
        Gives a panel that answers, or raises DeviceError.
    retry
        Seconds between two trials.
    """

    def __init__(self, opening: Callable[[], Glass], retry: float = RETRY_SECONDS) -> None:
        self._opening = opening
        self._retry = retry
        self._wanted = Frame()
        self._contrast = BRIGHTNESS[2]
        self._on_glass: tuple[Frame, int] | None = None
        self._ended = threading.Event()
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None
        self.shown = 0
        """Frames that were put on the glass."""
        self.skipped = 0
        """Frames that were equal to the one before."""
        self.replaced = 0
        """Frames that a newer one replaced before they were sent."""
        self.error = "not started"
        """Why the panel is dark; empty while it answers."""

    def start(self) -> None:
        """Begin to serve the panel; a second call does nothing. A panel that is not there is no error."""
        if self._thread is None:
            self._ended.clear()
            self._thread = threading.Thread(target=self._run, name="screen", daemon=True)
            self._thread.start()

    def stop(self) -> None:
        """End; a second call does nothing. The glass keeps its picture."""
        with self._changed:
            self._ended.set()
            self._changed.notify_all()
        thread, self._thread = self._thread, None
        if thread is not None:
            thread.join()

    def show(self, frame: Frame) -> None:
        """Show a picture; equal pictures are skipped. Returns at once, and a dead panel never raises."""
        with self._changed:
            if frame == self._wanted:
                self.skipped += self._on_glass is not None
                return
            self.replaced += self._behind()
            self._wanted = frame
            self._changed.notify_all()

    def dim(self, step: int) -> None:
        """Set the brightness, 1 to 5; steps beyond count as the nearest."""
        with self._changed:
            self._contrast = BRIGHTNESS[min(max(step, 1), len(BRIGHTNESS)) - 1]
            self._changed.notify_all()

    def flush(self, timeout: float) -> bool:
        """Wait until the latest frame is on the glass; false if it is not within `timeout` seconds."""
        with self._changed:
            return self._changed.wait_for(lambda: not self._behind(), timeout)

    def _behind(self) -> bool:
        return self._on_glass != (self._wanted, self._contrast)

    def _run(self) -> None:
        glass: Glass | None = None
        while not self._ended.is_set():
            try:
                glass = glass or self._opening()
                self._serve(glass)
            except DeviceError as error:
                if glass is not None:
                    glass.close()
                glass = None
                self._lose(error)
        if glass is not None:
            glass.close()

    def _serve(self, glass: Glass) -> None:
        """Keep a panel that answers up to date until the end; raises DeviceError when it no longer answers."""
        while not self._ended.is_set():
            with self._changed:
                self._changed.wait_for(lambda: self._behind() or self._ended.is_set())
                frame, contrast, before = self._wanted, self._contrast, self._on_glass
            if self._ended.is_set():
                return
            if before is None or before[1] != contrast:
                glass.contrast(contrast)
            if before is None or before[0] != frame:
                glass.write(frame)
            with self._changed:
                self.shown += before is None or before[0] != frame
                self._on_glass = (frame, contrast)
                self.error = ""
                self._changed.notify_all()

    def _lose(self, error: DeviceError) -> None:
        """Note that the panel is gone, and wait before it is tried again."""
        with self._changed:
            self._on_glass = None
            self.error = error.text
            again = time.monotonic() + self._retry
            while not self._ended.is_set() and (left := again - time.monotonic()) > 0:
                self._changed.wait(left)
