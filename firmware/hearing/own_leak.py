"""How much of own sound a prediction leaves in the microphone, as far as it has shown itself lately."""

from __future__ import annotations

from collections import deque
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

HOPS: Final = 16
"""Hops that are looked at together: 0.64 s, so that no beat and no gap between two notes is taken for silence."""

LOOK_HOPS: Final = 4
STEP_HOPS: Final = 2
LOOKS: Final = (HOPS - LOOK_HOPS) // STEP_HOPS + 1
"""That is in looks of four hops, two hops apart, each under a Hann window."""

SOUNDS: Final = 1e-3
"""They are compared where the prediction has so much of its strongest, -30 dB; elsewhere there is only noise."""

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
        self._left: deque[Signal] = deque(maxlen=LOOK_HOPS)
        self._made: deque[Signal] = deque(maxlen=LOOK_HOPS)
        self._powers: deque[float] = deque(maxlen=HOPS)
        self._looks: deque[tuple[float, float]] = deque(maxlen=LOOKS)
        self._hops = 0
        self.share = UNKNOWN

    def add(self, left: Signal, made: Signal, *, fitted: bool) -> None:
        """Add what was left of a hop and what was predicted for it, shape (hop,) both; `fitted` if lines are known."""
        self._left.append(left)
        self._made.append(made)
        self._powers.append(float(made @ made))
        self._hops += 1
        if self._hops % STEP_HOPS == 0 and len(self._made) == LOOK_HOPS:
            self._looks.append(_look(np.concatenate(self._left), np.concatenate(self._made)))
        if sum(self._powers) < HEARD * HOPS * len(made):
            self.share = min(MOST, RISES_UNHEARD * self.share)
            return
        if not fitted:
            self.share = min(MOST, RISES * self.share)
        made_power = sum(made for _, made in self._looks)
        if len(self._looks) == LOOKS and made_power > 0:
            self.share = min(self.share, sum(left for left, _ in self._looks) / made_power)


def _look(left: Signal, made: Signal) -> tuple[float, float]:
    """Energy that is left and that was predicted, at the frequencies that the prediction has, shape (n,) both."""
    if not made.any():
        return 0.0, 0.0
    window = np.hanning(len(made) + 1)[:-1]
    left_power, made_power = (np.abs(np.fft.rfft(window * sound)) ** 2 for sound in (left, made))
    there = made_power > SOUNDS * made_power.max()
    return float(left_power[there].sum()), float(made_power[there].sum())


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
