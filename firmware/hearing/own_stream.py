"""The cleaned stream for all that listens to players: decimated, our own sound taken out, in hops."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.hearing.chord_spectrum import Removed, nothing_removed
from firmware.hearing.filters import Decimator, Signal
from firmware.hearing.own_clock import OwnClock
from firmware.hearing.own_fit import MEMORY_HOPS
from firmware.hearing.own_pace import Pace
from firmware.hearing.own_room import RoomPath
from firmware.hearing.own_sound import RING_SECONDS, OwnSound
from firmware.hearing.room import Room
from firmware.units import RATE, Samples, gain_of

FACTOR: Final = 4
HOP: Final = 480
"""Samples at the lower rate that come at a time: 40 ms at 48 kHz."""

LOUDEST: Final = 4.0
"""Samples beyond this are no sound and are cut."""

OVER_FLOOR: Final = 4.0
"""What is left of the microphone has players in it when it is 6 dB over the least it was: the fit then rests."""

MOST_OWED: Final = 5e-4
"""Samples a hop by which own sound is put right at most when it comes early or late: an offset of a part in a million.
"""

OWN_SILENT: Final = 1e-5
"""Own sound whose peak is under this is none."""

FLOOR_RISES: Final = 1.01
"""The least is let rise this much a hop, a factor of ten in 9 s, so that a room that has become noisier is learnt."""

LEAST_PPM: Final = 0.5
SURE: Final = 4.0
"""Clocks are apart when the room check found more than this, and so many times its standard error."""


def tidy(block: Samples) -> Samples:
    """The block with whatever is not a number made 0 and the absurd cut off."""
    samples: Samples = np.asarray(block, dtype=np.float32)
    # One look at the peak is enough for nearly every block; with a NaN in it the comparison is false.
    if np.abs(samples).max(initial=0.0) <= LOUDEST:
        return samples
    clean: Samples = np.nan_to_num(samples, nan=0.0, posinf=0.0, neginf=0.0)
    return np.clip(clean, -LOUDEST, LOUDEST)


@dataclass(frozen=True, slots=True, eq=False)
class Hop:
    """40 ms of what the players sound like.

    `rest` is the microphone without our own sound, shape (hop,), at the lower rate; `end` the sample count of its end;
    `removed` tells what was taken out close to a frequency, None while our own sound is not known well enough;
    `removed_power` is the mean square of all that was taken out. `full` is the same stretch of the
    microphone at its full rate, shape (factor * hop,), None where our own sound may be in it.
    """

    rest: Signal
    end: int
    removed: Removed | None
    removed_power: float
    full: Signal | None = None


class CleanedStream:
    """Takes our own sound out of the microphone, once for all that listens.

    Parameters
    ----------
    rate : int
        Samples per second of the microphone.

    Attributes
    ----------
    own : OwnSound
        Knows what was taken out.
    delay : int
        Samples of the microphone by which the slow stream is late.

    Notes
    -----
    One rule says when players sound, so that nothing of them is learned as our own: what is left is 6 dB over the least
    it was, or the ear has just heard something harmonic in it.
    """

    def __init__(self, rate: int = RATE) -> None:
        self.rate = rate / FACTOR
        self.hop = HOP
        self.own = OwnSound(self.rate, HOP)
        self._clock = OwnClock(self.rate)
        self._pace = Pace(self.rate, HOP)
        self._owed = 0.0
        self._mic_slow = Decimator(FACTOR)
        self._own_slow = Decimator(FACTOR)
        self._waiting: list[tuple[Samples, Samples]] = []
        self._held = 0
        self._done = 0
        self._gain_db = 0.0
        self._gain = 1.0
        self._floor = np.inf
        self._silent = math.inf
        self._before: Samples = np.zeros(self._mic_slow.delay, np.float32)
        self._playing = False
        self._heard: tuple[bool, float | None] | None = None

    @property
    def delay(self) -> int:
        """Samples of the microphone by which the slow stream is late."""
        return self._mic_slow.delay

    @property
    def gain(self) -> float:
        """What the microphone is multiplied by once our own sound is out of it."""
        return self._gain

    @property
    def ppm(self) -> float:
        """By how many parts in a million the microphone's clock runs fast, as far as it is known."""
        return self._clock.ppm

    def amplify(self, gain_db: float) -> None:
        """Set the gain of the microphone in dB. It acts behind the removal, which goes on undisturbed."""
        self._gain_db = gain_db
        self._gain = gain_of(gain_db)

    def learn(self, room: Room) -> None:
        """Go by what the room check has learned, on a microphone with today's gain, from the next hop on."""
        path = RoomPath(room.amplified(-self._gain_db), FACTOR, HOP)
        apart = abs(room.clock_ppm) > max(LEAST_PPM, SURE * room.clock_sd_ppm)
        ppm = room.clock_ppm if apart else 0.0
        drift = (self._done - room.since) / FACTOR * ppm * 1e-6 / (1.0 + ppm * 1e-6)
        self._clock.set(ppm, path.late, drift if apart else 0.0)
        self._pace.known(ppm, room.clock_sd_ppm)
        self._owed = 0.0
        self.own.learn(path, self._clock.again(path.hops, HOP))

    def tell_player(self, player: bool, hz: float | None) -> None:  # noqa: FBT001 - one state, one value
        """Take in what the ear makes of the hop that was given last: something harmonic, and the last pitch."""
        self._heard = player, hz

    def process(self, mic: Samples, own: Samples) -> Iterator[Hop]:
        """Take in a block of the microphone and of what the box played at the same samples, both shape (n,).

        Raises
        ------
        ValueError
            If the blocks differ in length.
        """
        if len(mic) != len(own):
            message = f"microphone and own sound must be equally long, not {len(mic)} and {len(own)} samples"
            raise ValueError(message)
        self._waiting.append((tidy(mic), tidy(own)))
        self._held += len(mic)
        size = HOP * FACTOR
        if self._held < size:
            return
        mics, owns = (np.concatenate(parts) for parts in zip(*self._waiting, strict=True))
        whole = self._held // size * size
        self._waiting = [(mics[whole:], owns[whole:])]
        self._held -= whole
        for start in range(0, whole, size):
            self._done += size
            slow = self._own_slow.process(owns[start : start + size])
            full = self._full(mics[start : start + size], owns[start : start + size])
            yield self._cleaned(self._mic_slow.process(mics[start : start + size]), slow, full)

    def _full(self, mic: Samples, own: Samples) -> Signal | None:
        """The stretch of the microphone that the slow hop stands for, as long as nothing of ours can be in it."""
        self._silent = 0.0 if np.abs(own).max() > OWN_SILENT else self._silent + len(own) / FACTOR / self.rate
        late, self._before = np.concatenate([self._before, mic]), mic[len(mic) - self.delay :]
        if self._silent < RING_SECONDS:
            return None
        full: Signal = self._gain * late[: len(mic)].astype(np.float64)
        return full

    def _cleaned(self, mic: Signal, played: Signal, full: Signal | None) -> Hop:
        was_known = self.own.known
        own, jumped = self._clock.process(played)
        if jumped:
            self.own.fall_back(jumped)
        self._pace.idle += HOP / self.rate
        self.own.late_sd = self._pace.late_sd
        player, hz = self._heard if self._heard is not None else (self._playing, None)
        rest = self.own.remove(mic, own, rests=player or self._playing, player=player, hz=hz)
        taken = mic - rest
        known = self.own.known
        power = float(rest @ rest) / len(rest)
        if known and not was_known:
            self._floor = np.inf
        self._floor = min(FLOOR_RISES * self._floor, power + 1e-12)
        self._playing = known and power > OVER_FLOOR * self._floor
        removed_power = float(taken @ taken) / len(taken)
        removed: Removed | None = None
        if known:
            removed = self._removed if removed_power > 0 else nothing_removed
        self._follow_clock(mic, own)
        end, gain = self._done - self.delay, self._gain
        return Hop(gain * rest, end, removed, gain**2 * removed_power, full)

    def _follow_clock(self, mic: Signal, own: Signal) -> None:
        """Go by what own sound alone tells of the clocks."""
        if self._owed:
            # A little in each hop, so that the lines are not torn.
            step = math.copysign(min(abs(self._owed), MOST_OWED), self._owed)
            self._clock.nudge(0.0, step)
            self._owed -= step
        if not self.own.steady or self._playing or (self._heard is not None and self._heard[0]):
            self._pace.clear()
            return
        first = not self._pace.apart
        found = self._pace.add(mic, own, self.own.prediction)
        if found is None:
            return
        self._clock.nudge(found.ppm, 0.0)
        self._owed += found.samples
        if first:
            self.own.begin_anew(self._clock.again(MEMORY_HOPS, HOP))

    def _removed(self, hz: Signal) -> Signal:
        return self._gain**2 * self.own.coincident(hz)
