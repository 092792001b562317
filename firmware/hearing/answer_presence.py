"""Whether a player who is answered is still there: by the levels of the partials that the answer leaves free."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.answer_partials import Looks

NEW_LOOKS: Final = 4
"""Looks of a hop; the others are those of the hop before."""

LOOK_DOWN: Final = 3
"""Looks whose mean must have fallen: what a loudspeaker makes of drone and answer beats with what is heard."""

DROP: Final = 10 ** (-6 / 10)
"""A player whose free partials fall so far, all together, has stopped: the direct sound has gone, the room rings on."""

EACH_DROP: Final = 10 ** (-4.5 / 10)
"""In each of these looks they must have fallen so far: a vibrato in a room fades for less than 60 ms."""

PARTIAL_DROP: Final = 10 ** (-11 / 10)
"""A strong partial that falls so far asks whether it is still the same note."""

STRONG: Final = 0.1
FADES: Final = 10 ** (-15 * 0.04 / 10)
"""What counts as the player's level follows a diminuendo of 15 dB a second; a room of 1.2 s falls by 50."""

OVER_NOISE: Final = 5.0
OVER_ANSWER: Final = 10 ** (-40 / 10)
"""The free partials of a player must be so strong against the lines of the answer; a low clarinet has -37 dB."""

HOLDS: Final = 10 ** (-1.5 / 10)
"""A note that begins, or goes on, does not fall by more than this in 60 ms; a room of 1.2 s falls by 3 dB."""


class Presence:
    """Remembers how strong the free partials of the player were.

    Attributes
    ----------
    known : bool
        Whether there is anything to compare with.
    """

    def __init__(self) -> None:
        self._levels: NDArray[np.float64] | None = None
        self._numbers: NDArray[np.int64] = np.zeros(0, np.int64)

    @property
    def known(self) -> bool:
        """Whether there is anything to compare with."""
        return self._levels is not None

    def forget(self) -> None:
        """Another note is followed, or what was heard may not have been the player's."""
        self._levels = None

    def before(self, now: float) -> float:
        """Mean square that the free partials had together; `now` if that is not known."""
        return float(self._levels.sum()) if self._levels is not None else now

    def lasts(self, looks: Looks) -> bool:
        """Whether the partials together have not fallen, and stand out of noise and answer."""
        if latest(looks) < max(floor(looks), OVER_ANSWER * float(looks.own[-LOOK_DOWN:].mean())):
            return False
        before = self.before(0.0) if self._comparable(looks) else 0.0
        return latest(looks) >= DROP * before or float(looks.total[-LOOK_DOWN:].max()) >= EACH_DROP * before

    def changed(self, looks: Looks) -> bool:
        """Whether a strong partial has fallen while others hold."""
        if self._levels is None or not self._comparable(looks):
            return False
        strong = self._levels > STRONG * float(self._levels.sum())
        return bool((looks.power[-LOOK_DOWN:, strong] < PARTIAL_DROP * self._levels[strong]).all(axis=0).any())

    def remember(self, looks: Looks) -> None:
        """Level of each free partial: at once when it rises, slowly when it falls."""
        now = looks.power[-NEW_LOOKS:].mean(axis=0)
        same = self._levels is not None and self._comparable(looks)
        self._levels = np.maximum(now, FADES * self._levels) if same and self._levels is not None else now
        self._numbers = looks.numbers

    def _comparable(self, looks: Looks) -> bool:
        return self._levels is not None and np.array_equal(looks.numbers, self._numbers)


def latest(looks: Looks) -> float:
    """Mean square of all free partials in the last looks."""
    return float(looks.total[-LOOK_DOWN:].mean())


def floor(looks: Looks) -> float:
    """Mean square that all free partials together may have by noise alone."""
    return OVER_NOISE * looks.noise * math.sqrt(len(looks.numbers))


def share_of(looks: Looks) -> float:
    """What share of the sound on the free partials is no noise."""
    return float(looks.total[-1] / (looks.total[-1] + len(looks.numbers) * looks.noise))


def holds(looks: Looks) -> bool:
    """Whether a note does not fall, as everything does that only rings."""
    return bool(looks.total[-2:].mean() > HOLDS * looks.total[:2].mean())
