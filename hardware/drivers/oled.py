"""The box's OLED, served by a thread of its own: a frame takes 23 ms on the wire, and a loose cable takes for ever."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable
from typing import Final, Protocol

from firmware.errors import DeviceError
from firmware.screens.frame import Frame
from hardware.board.table import ScreenPort
from hardware.drivers.pin_factory import SharedPins

RETRY_SECONDS: Final = 2.0
"""How often a panel that does not answer is tried again."""

RENEW_SECONDS: Final = 10.0
"""How often the chip is set up and its picture sent again although nothing changed.

A module whose wire was off for a moment answers as before, but has forgotten both, and is dark or full of noise. It
costs 23 ms of a bus that nothing else needs.
"""

BRIGHTNESS: Final = (1, 40, 100, 170, 255)
"""Contrast of the chip for the setting's five steps; the eye wants about equal ratios at the dark end."""


class Glass(Protocol):
    """A panel that answers; every method raises DeviceError when it does not."""

    def write(self, frame: Frame) -> None:
        """Put a picture on the glass."""

    def contrast(self, level: int) -> None:
        """Set the brightness, 0 to 255."""

    def renew(self) -> None:
        """Set it up again without going dark."""

    def close(self) -> None:
        """Let it go."""


def open_oled(port: ScreenPort, pins: SharedPins | None = None) -> Glass:
    """The panel at a port; raises DeviceError when it does not answer."""
    try:
        from hardware.drivers.oled_chip import OledPanel  # noqa: PLC0415 - luma is only there on the box
    except ImportError as error:
        raise DeviceError("screen", port.chip, f"luma.oled must be installed ({error})") from error
    return OledPanel(port, pins)


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
    renew
        Seconds after which an unchanged picture is sent again.
    """

    def __init__(
        self, opening: Callable[[], Glass], retry: float = RETRY_SECONDS, renew: float = RENEW_SECONDS
    ) -> None:
        self._opening = opening
        self._retry = retry
        self._renew = renew
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
        self.renewed = 0
        """Times that an unchanged picture was sent again."""
        self.error = "not started"
        """Why the panel is dark; empty while it answers."""

    def start(self) -> None:
        """Begin to serve the panel; a second call does nothing. A panel that is not there is no error."""
        if self._thread is None:
            self._ended.clear()
            self._thread = threading.Thread(target=self._run, name="screen", daemon=True)
            self._thread.start()

    def stop(self) -> None:
        """Bring the last picture, and end; a second call does nothing. The glass keeps it."""
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
        tried = False
        while not (tried and self._ended.is_set()):
            tried = True  # once at least, for the sake of a picture that was shown just before the end
            try:
                glass = glass or self._opening()
                self._serve(glass)
            except Exception as error:  # noqa: BLE001 - no fault of a panel or its library may end this thread
                self._let_go(glass)
                glass = None
                self._lose(error.text if isinstance(error, DeviceError) else f"screen: {error!r}")
        self._let_go(glass)

    @staticmethod
    def _let_go(glass: Glass | None) -> None:
        if glass is not None:
            with contextlib.suppress(OSError):
                glass.close()

    def _serve(self, glass: Glass) -> None:
        """Keep a panel that answers up to date until the end; raises DeviceError when it no longer answers."""
        due = time.monotonic() + self._renew
        while not self._ended.is_set() or self._behind():
            with self._changed:
                self._changed.wait_for(lambda: self._behind() or self._ended.is_set(), due - time.monotonic())
                frame, contrast, before = self._wanted, self._contrast, self._on_glass
            if time.monotonic() >= due and not self._ended.is_set():
                glass.renew()
                due = time.monotonic() + self._renew
                self.renewed += before is not None
                before = None
            if before != (frame, contrast):
                self._bring(glass, frame, contrast, before)

    def _bring(self, glass: Glass, frame: Frame, contrast: int, before: tuple[Frame, int] | None) -> None:
        """Send what differs from what was on the glass before."""
        if before is None or before[1] != contrast:
            glass.contrast(contrast)
        if before is None or before[0] != frame:
            glass.write(frame)
        with self._changed:
            self.shown += self._on_glass is None or self._on_glass[0] != frame
            self._on_glass = (frame, contrast)
            self.error = ""
            self._changed.notify_all()

    def _lose(self, why: str) -> None:
        """Note that the panel is gone, and wait before it is tried again."""
        with self._changed:
            self._on_glass = None
            self.error = why
            again = time.monotonic() + self._retry
            while not self._ended.is_set() and (left := again - time.monotonic()) > 0:
                self._changed.wait(left)
