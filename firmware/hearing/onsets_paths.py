"""Takes own sound out of the microphone, the click by one path and all that is held by another."""

from __future__ import annotations

from collections import deque
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal
from firmware.hearing.onsets_own import OwnPath, error_of

LASTING_HELD: Final = 0.999
"""How much of the path of what is held is still as it was a section later; without clicks in it, it may be sure."""

CHANGED: Final = 0.2
"""Share of what is held that is new when a drone changes, or a key of a keyboard is struck; of a drone, up to 0.07."""

KEPT: Final = 8
"""Sections for which a change is remembered."""

BEFORE: Final = 1
AFTER: Final = 2
"""Sections around a change in which what begins is own sound: what is new in it, and what is subtracted wrongly."""


class OwnPaths:
    """Two paths from the box to the microphone: that of what is struck, and that of what is held.

    Notes
    -----
    There is one room, but a held line tells only the sum of the sections of its path, not which of them it came
    through. A path that learnt from a drone would take a click out where it is not heard, and so put a sound there
    that nobody made. The click's own path is told by clicks alone.

    Parameters
    ----------
    struck, held : OwnPath or None
        What is known of them.
    """

    def __init__(self, struck: OwnPath | None = None, held: OwnPath | None = None) -> None:
        self._struck, self._held = struck or OwnPath(), held or OwnPath(LASTING_HELD)
        self._new = False
        self._changes: deque[bool] = deque([False] * KEPT, KEPT)

    def remove(self, mic: Signal, own: Signal, struck: Signal | None = None) -> Signal:
        """What is left of the microphone without own sound, shape (SECTION,).

        Parameters
        ----------
        mic, own : Signal
            The next section of the microphone and of what the box played, each shape (SECTION,).
        struck : Signal or None
            What of it are clicks, shape (SECTION,); all of it if that is not known.
        """
        heard = self._struck.play(own if struck is None else struck)
        held = self._held.play(np.zeros_like(own) if struck is None else own - struck)
        before, self._new = self._new, self._held.sounds and self._held.news() > CHANGED
        self._changes.append(self._new and not before)
        if not (self._struck.sounds or self._held.sounds):
            return mic
        rest = mic - heard - held
        error = error_of(rest)
        if self._held.sounds:
            # Or the first click would be taken for news about the drone's path.
            self._held.learn(error, self._struck.expected)
        if self._struck.sounds:
            self._struck.learn(error)
        return rest

    def changed(self, ago: int) -> bool:
        """Whether what is held changed about the time of a section, the last being 0 sections ago."""
        at = len(self._changes) - 1 - ago
        return any(list(self._changes)[max(0, at - AFTER) : max(0, at + BEFORE + 1)])

    def again(self) -> OwnPaths:
        """A copy that knows what this one has learnt, for hearing a recording from its beginning once more."""
        return OwnPaths(self._struck.again(), self._held.again())

    def late(self) -> int | None:
        """By how many samples a click is heard later than it is played; None as long as none has been heard."""
        return self._struck.late()

    def hidden(self) -> Signal:
        """Power of own sound that may be left in the last section, as of `OwnPath.hidden`, shape (SECTION + 1,)."""
        return self._struck.hidden() + self._held.hidden()
