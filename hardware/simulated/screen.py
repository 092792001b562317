"""An OLED without glass: keeps what it was last shown."""

from __future__ import annotations

from collections import deque
from typing import Final

from firmware.screens.frame import Frame

KEPT: Final = 16


class SimulatedScreen:
    """A screen that keeps the Screen contract; `last_frame` is what a person would see.

    Parameters
    ----------
    keep : int
        How many of the latest frames `frames` holds.
    """

    def __init__(self, keep: int = KEPT) -> None:
        self.frames: deque[Frame] = deque(maxlen=keep)
        """The latest frames, oldest first, no two neighbours equal."""
        self.shown = 0
        """Frames that were put on the glass."""
        self.skipped = 0
        """Frames that were equal to what was there."""
        self.dead = False
        """Set it, and the panel takes nothing more, as when its cable comes off."""
        self.brightness = 3
        self._glass = Frame()

    @property
    def last_frame(self) -> Frame:
        """What is on the glass; dark before the first picture."""
        return self._glass

    def dim(self, step: int) -> None:
        """Set the brightness, 1 to 5; steps beyond count as the nearest."""
        self.brightness = min(max(step, 1), 5)

    def show(self, frame: Frame) -> None:
        """Show a picture; equal pictures are skipped. A dead panel never raises."""
        if self.dead:
            return
        if self.shown and frame == self._glass:
            self.skipped += 1
            return
        self._glass = frame
        self.frames.append(frame)
        self.shown += 1
