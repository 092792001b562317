"""The cleaned stream for whatever listens to several players at once: decimated, our own sound taken out, in hops."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.hearing.chord_spectrum import Removed, nothing_removed
from firmware.hearing.ear import FACTOR, HOP, tidy
from firmware.hearing.filters import Decimator, Signal
from firmware.hearing.own_sound import OwnSound
from firmware.units import RATE, Samples

OVER_FLOOR: Final = 4.0
"""What is left of the microphone has players in it when it is 6 dB over the least it was: the fit then rests."""

FLOOR_RISES: Final = 1.01
"""The least is let rise this much a hop, a factor of ten in 9 s, so that a room that has become noisier is learnt."""


@dataclass(frozen=True, slots=True, eq=False)
class Hop:
    """40 ms of what the players sound like.

    `rest` is the microphone without our own sound, shape (hop,), at the lower rate; `end` the sample count of its end;
    `removed` tells what was taken out close to a frequency, None while our own sound is not known well enough;
    `removed_power` is the mean square of all that was taken out.
    """

    rest: Signal
    end: int
    removed: Removed | None
    removed_power: float


class CleanedStream:
    """Takes our own sound out of the microphone.

    Parameters
    ----------
    rate : int
        Samples per second of the microphone.
    """

    def __init__(self, rate: int = RATE) -> None:
        self.rate = rate / FACTOR
        self.hop = HOP
        self._mic_slow = Decimator(FACTOR)
        self._own_slow = Decimator(FACTOR)
        self._own = OwnSound(self.rate, HOP)
        self._mics: Samples = np.zeros(0, np.float32)
        self._owns: Samples = np.zeros(0, np.float32)
        self._done = 0
        self._floor = np.inf
        self._playing = False

    def process(self, mic: Samples, own: Samples) -> Iterator[Hop]:
        """Take in a block of the microphone and of what the box played at the same samples, both shape (n,)."""
        self._mics = np.concatenate([self._mics, tidy(mic)])
        self._owns = np.concatenate([self._owns, tidy(own)])
        size = self.hop * FACTOR
        while len(self._mics) >= size:
            mic, self._mics = self._mics[:size], self._mics[size:]
            own, self._owns = self._owns[:size], self._owns[size:]
            self._done += size
            yield self._cleaned(self._mic_slow.process(mic), self._own_slow.process(own))

    def _cleaned(self, mic: Signal, own: Signal) -> Hop:
        was_known = self._own.known
        rest = self._own.remove(mic, own, player=self._playing)
        taken = mic - rest
        known = self._own.known
        power = float(rest @ rest) / len(rest)
        if known and not was_known:
            self._floor = np.inf
        self._floor = min(FLOOR_RISES * self._floor, power + 1e-12)
        self._playing = known and power > OVER_FLOOR * self._floor
        removed_power = float(taken @ taken) / len(taken)
        removed: Removed | None = None
        if known:
            removed = self._own.coincident if removed_power > 0 else nothing_removed
        return Hop(rest, self._done - self._mic_slow.delay, removed, removed_power)
