"""Bounds how much of a click of ours can still ring in the room, so that a player clearly over it can be read."""

from __future__ import annotations

from typing import Final

import numpy as np

LATEST_SECONDS: Final = 0.16
"""A sound of ours may reach the microphone this late."""

SLOWEST_DECAY_SECONDS: Final = 1.5
"""Reverberation time that is assumed, longer than any room the box is meant for."""

CAUTION: Final = 4.0
"""The gain from own sound to the microphone differs with frequency; 6 dB over its mean covers nearly all of it."""


class Transients:
    """Upper bound for the power at the microphone of own sound that is not in the lines.

    Parameters
    ----------
    hop_seconds : float
        Length of a hop.

    Notes
    -----
    The whole energy of a hop is assumed to arrive in any one hop up to `LATEST_SECONDS` later, and to decay after that
    with the slowest reverberation.
    """

    def __init__(self, hop_seconds: float) -> None:
        self._late = max(1, round(LATEST_SECONDS / hop_seconds))
        self._decay = 10 ** (-6 * hop_seconds / SLOWEST_DECAY_SECONDS)
        self._fresh: list[float] = [0.0] * self._late
        self._ringing = 0.0

    def add(self, power: float) -> None:
        """Add the mean power of one hop of own sound outside its lines."""
        self._ringing = self._ringing * self._decay + self._fresh[0]
        self._fresh = [*self._fresh[1:], power]

    def power(self, gain: float) -> float:
        """Mean power that may be at the microphone now, given the power gain of the room."""
        return CAUTION * gain * (float(np.sum(self._fresh)) + self._ringing)
