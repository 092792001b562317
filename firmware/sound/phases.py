"""With which phase a new tone begins."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.sound.ramp import Floats
from firmware.sound.voices import SAME_PITCH, Voices
from firmware.units import ratio_of

NEAR: Final = ratio_of(8.0)
"""A new tone this close to a leaving one is a slide by a detent or two; a comma, or just to equal, is more."""

MEMORY: Final = 128
"""Tones whose home is remembered."""


class Phases:
    """Chooses phases so that a chord sounds the same whenever it sounds, and slides don't waver.

    A tone's home phase is the one it would have had it sounded since sample 0. All tones at home add up in the same way
    each time, since partials that coincide are then in step.

    - A tone that only changes its timbre keeps its phase.
    - A tone that was at home before comes home: after Compare the chord is exactly what it was.
    - A new tone close to a leaving one takes over its phase, so that the cross-fade neither beats nor dips.
    - Any other tone begins at home.
    """

    def __init__(self) -> None:
        self._home = np.zeros(0)

    def choose(
        self, new: Floats, voices: Voices, leaving: NDArray[np.bool_], position: int
    ) -> tuple[Floats, NDArray[np.int64]]:
        """Phases of new tones.

        Parameters
        ----------
        new : array of shape (n,)
            Their frequencies in Hz.
        voices : Voices
            What sounds now.
        leaving : array of bool, shape (voices,)
            Which of these will be gone.
        position : int
            Sample at which the new tones begin.

        Returns
        -------
        tuple of arrays of shape (n,)
            Cycles of each fundamental, and the sample at which it has these.
        """
        cycle, origin = np.zeros(len(new)), np.zeros(len(new), dtype=np.int64)
        donors = np.flatnonzero(leaving & (voices.gains.target > 0.0))
        if len(donors):
            distance = np.abs(np.log(voices.hz[donors] / new[:, None]))
            donor, distance = donors[np.argmin(distance, axis=1)], distance.min(axis=1)
            close = (distance <= math.log(NEAR)) & ~self._been_home(new)
            cycle = np.where(close, voices.cycles(position)[donor], cycle)
            origin = np.where(close, position, origin)
            same = distance <= SAME_PITCH
            cycle, origin = np.where(same, voices.cycle[donor], cycle), np.where(same, voices.origin[donor], origin)
        home = new[(origin == 0) & (cycle == 0.0) & ~self._been_home(new)]
        self._home = np.concatenate([self._home, home])[-MEMORY:]
        return cycle, origin

    def _been_home(self, hz: Floats) -> NDArray[np.bool_]:
        """Which of these tones are remembered."""
        return np.asarray((np.abs(self._home / hz[:, None] - 1.0) <= SAME_PITCH).any(axis=1))
