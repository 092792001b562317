"""Where in a recording something begins at once: strokes, tongued notes. Soft beginnings are left to themselves."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.units import RATE, Samples

Signal = NDArray[np.float64]
"""Sound while it is worked on, shape (n,)."""

FRAME: Final = RATE // 500
"""Samples whose energy is taken together: 2 ms."""

LOOK_BACK: Final = 25
"""Frames before it that an attack must rise above, 50 ms: more than a period of the lowest note, whose pulses are no
attacks."""

RISE: Final = 4.0
"""Energy of an attack over the largest in those frames: 6 dB."""

BEGUN: Final = 1.6
"""What belongs to the rise already."""

FAINTEST: Final = 1e-9
"""Energy of a sample (of the differences) under which nothing is an attack: -90 dB."""

APART: Final = RATE // 20
"""Attacks closer than this are one."""

SHARE: Final = 0.3
"""Share of the largest difference at which the attack has begun."""


class Attacks:
    """Finds attacks in a stream of blocks.

    Notes
    -----
    The sound is differentiated, so that what is high counts more: there an attack stands out from notes that are held.
    A frame whose energy, or the next frame's, is four times the largest of the 50 ms before begins an attack; the
    place is where the differences in the two first reach a third of their largest.
    """

    def __init__(self) -> None:
        self.places: list[int] = []
        """Samples at which attacks begin."""
        self._waiting: Signal = np.zeros(0)
        self._before = 0.0
        self._last: Signal = np.zeros(FRAME)
        self._energies: list[float] = []
        self._frames = 0

    @property
    def known(self) -> int:
        """Sample before which every attack has been found."""
        return max(0, (self._frames - 1) * FRAME)

    def process(self, block: Samples) -> None:
        """Take in a block, shape (n,)."""
        sound = np.asarray(block, dtype=np.float64)
        if len(sound) == 0:
            return
        steps = np.diff(sound, prepend=self._before)
        self._before = float(sound[-1])
        joined = np.concatenate([self._waiting, steps])
        whole = len(joined) // FRAME * FRAME
        for frame in joined[:whole].reshape(-1, FRAME):
            self._add(frame)
        self._waiting = joined[whole:]

    def forget(self, before: int) -> None:
        """Drop what lies before a sample."""
        self.places = [place for place in self.places if place >= before]

    def _add(self, frame: Signal) -> None:
        last, self._last = self._last, frame
        self._energies = [*self._energies, float(frame @ frame) / FRAME][-(LOOK_BACK + 2) :]
        self._frames += 1
        if len(self._energies) < LOOK_BACK + 2:
            return
        *past, here, after = self._energies
        loudest = max(*past, FAINTEST)
        if here > BEGUN * loudest and max(here, after) > RISE * loudest:
            both = np.abs(np.concatenate([last, frame]))
            place = (self._frames - 2) * FRAME + int(np.argmax(both >= SHARE * both.max()))
            if not self.places or place - self.places[-1] >= APART:
                self.places.append(place)
