"""Remembers a player who was there when own sound began, and who may be taken for a part of it."""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

REMNANT_FROM: Final = 5
"""A player with this many partials on our lines and none between is one we took for ourselves."""

HIDDEN_HZ: Final = 1.0
"""A partial closer to a line than this may be taken for it in a fit of 1.2 s."""

LEFT_OVER: Final = 0.03
"""What is left of a player is this close to the pitch that was heard, a multiple of it or a part."""


class Doubt:
    """Whether what is read may be left of a player whose partials were fitted as our own.

    Parameters
    ----------
    first : int
        Number of the hop in which a player was there last, as far back as is worth knowing.

    Attributes
    ----------
    lasts : bool
        Whether a player may have been taken for own sound at all.
    """

    def __init__(self, first: int) -> None:
        self._at = first
        self._hz: float | None = None
        self._hidden_hz: float | None = None
        self.lasts = False

    def player(self, index: int, hz: float | None) -> None:
        """Take note of a player in a hop, and of the pitch that was read last, None if that is not known."""
        self._at, self._hz = index, hz

    def begin(self, lines: Signal, since: int, rings: int) -> None:
        """Own sound has become these lines in Hz in hop `since`; what was heard before rings for so many hops."""
        self.lasts = since - self._at < rings and self._on(lines)
        self._hidden_hz = self._hz

    def of(self, hz: float) -> bool:
        """Whether a pitch may be left over from the player who was there."""
        if not self.lasts or self._hidden_hz is None:
            return self.lasts
        ratio = max(hz / self._hidden_hz, self._hidden_hz / hz)
        return abs(ratio / round(ratio) - 1) < LEFT_OVER

    def _on(self, lines: Signal) -> bool:
        """Whether a low partial of the player may hide in the lines; yes if the pitch is not known."""
        if self._hz is None:
            return True
        return bool((np.abs(lines[:, None] - self._hz * np.arange(1, 4)) < HIDDEN_HZ).any())


def remnant(hz: float, lowest: float, near: float) -> bool:
    """Whether a pitch is a high multiple of our lowest line: what a player leaves whose low partials we took."""
    number = round(hz / lowest)
    return number >= REMNANT_FROM and abs(hz - lowest * number) < near
