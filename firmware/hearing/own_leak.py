"""How much of own sound a prediction leaves in the microphone, as far as it has shown itself lately."""

from __future__ import annotations

from collections import deque
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

HOPS: Final = 16
"""Hops that are looked at together: 0.64 s, so that no beat and no gap between two notes is taken for silence."""

UNKNOWN: Final = 0.25
"""Share that may be left before anything has shown: a loudspeaker turned up or down by 3.5 dB, or a moved microphone.
"""

MOST: Final = 2.0
"""Share that is left of a prediction that is wholly wrong, in the mean."""

RISES: Final = 1.014
"""What has shown is worth less with every hop in which own sound sounds: 10 dB in 6.6 s."""

RISES_UNHEARD: Final = 1.002
"""The same while there is none: 10 dB in 46 s."""

MULTIPLES: Final = (2, 3)
LEAST_BEYOND: Final = 0.05
"""Of the partials besides the multiples so much must be more than is left of own sound."""

UNEVEN: Final = 10 ** (5 / 10)
"""A few partials may be left by so much more than many are."""

HEARD: Final = 1e-9
"""Mean square of a prediction, -90 dB, from which it can be compared."""


class Leak:
    """Bounds the share of own sound that a prediction leaves.

    Attributes
    ----------
    share : float
        Share of the predicted power that is left at most.

    Notes
    -----
    Whatever is left of the microphone holds what the prediction has missed, besides noise and players; so the least
    that was left in any stretch bounds it. The bound is good once there was so long a stretch without players.
    """

    def __init__(self) -> None:
        self._left: deque[float] = deque(maxlen=HOPS)
        self._made: deque[float] = deque(maxlen=HOPS)
        self.share = UNKNOWN

    def add(self, left: Signal, made: Signal, *, fitted: bool) -> None:
        """Add what was left of a hop and what was predicted for it, shape (hop,) both; `fitted` if lines are known."""
        self._left.append(float(left @ left))
        self._made.append(float(made @ made))
        made_power = sum(self._made)
        if made_power < HEARD * HOPS * len(made):
            self.share = min(MOST, RISES_UNHEARD * self.share)
            return
        if not fitted:
            self.share = min(MOST, RISES * self.share)
        if len(self._made) == HOPS:
            self.share = min(self.share, sum(self._left) / made_power)


def octave_of_own(played: Signal, own: Signal) -> bool:
    """Whether a pitch rests on what is left of own sound, so that the player's is two or three times as high.

    Parameters
    ----------
    played : array of shape (partials,)
        Power of the partials that were read.
    own : array of shape (partials,)
        How much of each may be left of own sound.
    """
    number = np.arange(1, len(played) + 1)
    beyond = np.maximum(played - UNEVEN * own, 0.0)
    for multiple in MULTIPLES:
        others = number % multiple != 0
        if float(beyond[others].sum()) < LEAST_BEYOND * float(played[others].sum()):
            return True
    return False
