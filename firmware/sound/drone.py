"""The drone: exact tones that come, go and change without a click.

What a click is
---------------
A change is free of clicks when what is heard is the *ideal cross-fade*: the sum of steady tones, each times a gain that
has no jump, no kink and no sudden bend, and nothing else. So two things are measured (tests/firmware/sound):

- the output differs from the ideal cross-fade, computed in float64 from the definition, by less than -60 dB of full
  scale in every sample (in fact by less than -120 dB);
- above the highest partial that sounds, a 512-sample Hann window over the change holds less than -60 dB of full scale:
  the gains themselves splash no further than their own few tens of hertz, even when they are aimed anew in each block.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.sound.phasors import Stack, Tables, each, start_phasors
from firmware.sound.ramp import Fader, Floats, Ramps
from firmware.sound.snapshot import DroneSound, ToneSound
from firmware.sound.timbre import PARTIALS, Timbre
from firmware.sound.timbres import TIMBRES
from firmware.units import Samples, gain_of, ratio_of

CHANGE_SECONDS: Final = 0.025
"""How long a cross-fade between two sets of tones takes."""

FADE_RANGE: Final = (0.005, 30.0)
"""Shortest and longest time in which the whole drone comes and goes, in seconds."""

SPACING: Final = 256
"""Samples between two changes; what comes sooner waits, so that at most 6 sets of tones sound at once."""

MOST_TONES: Final = 64
"""Tones of one snapshot that sound; more are left out."""

HZ_RANGE: Final = (1.0, 20_000.0)
"""Tones outside these frequencies are left out; nobody could hear them."""

HEADROOM_DB: Final = -6.0
"""A drone at level 0 has the power of a sine this far below full scale: a chord's peaks then just reach the limiter."""

SAME_PITCH: Final = 1e-12
"""Relative difference below which two frequencies are one: a rounding error, a billionth of a cent."""

NEAR: Final = ratio_of(60.0)
"""A new tone within this ratio of a leaving one takes over its phase, so that small slides neither beat nor dip."""

LEVEL_RANGE: Final = (-120.0, 40.0)
"""Levels are held within these, in dB."""


def safe_gain(level_db: float) -> float:
    """Amplitude factor of a level, whatever is asked for: held within the range, and nothing for what is no number."""
    if math.isnan(level_db) or level_db <= LEVEL_RANGE[0]:
        return 0.0
    return gain_of(min(level_db, LEVEL_RANGE[1]))


def spread_cycles(hz: Floats) -> Floats:
    """Phase of a partial in cycles, by its frequency alone: partials that coincide add up, yet peaks don't pile up.

    The phase of a filter that passes all frequencies and delays high ones more, up to 27 ms at 9 kHz. By trial over
    chords of two octaves it lowers peaks by 5 to 8 dB against partials that all start together.
    """
    return np.asarray(-0.006 * hz * np.log1p(hz / 100.0))


def wanted_gains(tones: tuple[ToneSound, ...]) -> dict[float, float]:
    """Amplitude of each frequency.

    Together they have at most the power of one tone at level 0, however many tones there are; a single soft tone stays
    soft. Frequencies that can't sound are left out, equal ones are added.
    """
    gains: dict[float, float] = {}
    for tone in tones[:MOST_TONES]:
        if HZ_RANGE[0] <= tone.hz <= HZ_RANGE[1]:  # False for what is no number
            gains[tone.hz] = gains.get(tone.hz, 0.0) + safe_gain(tone.level_db)
    power = sum(gain * gain for gain in gains.values())
    scale = 1.0 / max(1.0, math.sqrt(power))
    return {hz: gain * scale for hz, gain in gains.items() if gain > 0.0}


class Voices:
    """Tones that sound now, those that leave included.

    Each stands at `cycle + hz * (position - origin) / rate` cycles: a product, never a running sum, so that no error
    grows with time.
    """

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.hz = np.zeros(0)
        self.kind = np.zeros(0, dtype=np.int64)
        self.cycle = np.zeros(0)
        self.origin = np.zeros(0, dtype=np.int64)
        self.partials = np.zeros((0, PARTIALS), dtype=np.complex128)
        self.gains = Ramps(np.zeros(0))
        self.tables = Tables.of(self.hz, rate)
        self._stack: tuple[NDArray[np.bool_], Stack] | None = None

    def __len__(self) -> int:
        return len(self.hz)

    def cycles(self, position: int) -> Floats:
        """Phase of each fundamental in cycles, shape (voices,)."""
        return np.asarray(self.cycle + self.hz * (position - self.origin) / self.rate)

    def find(self, hz: Floats, timbre: Timbre) -> NDArray[np.int64]:
        """Numbers of the voices of these pitches and this timbre, -1 where there is none."""
        if not len(self):
            return np.full(len(hz), -1)
        distance = np.abs(self.hz[None, :] / hz[:, None] - 1.0) + np.where(self.kind == kind_of(timbre), 0.0, 1.0)
        nearest = np.argmin(distance, axis=1)
        return np.where(distance[np.arange(len(hz)), nearest] <= SAME_PITCH, nearest, -1)

    def add(self, hz: Floats, timbre: Timbre, phase: tuple[Floats, NDArray[np.int64]]) -> None:
        """Add silent voices; `phase` holds their cycles and the samples at which these hold."""
        partial_hz = hz[:, None] * np.arange(1, PARTIALS + 1)
        partials = timbre.amplitudes(hz, self.rate) * np.exp(2j * np.pi * spread_cycles(partial_hz))
        self.kind = np.concatenate([self.kind, np.full(len(hz), kind_of(timbre))])
        self.hz = np.concatenate([self.hz, hz])
        self.cycle = np.concatenate([self.cycle, phase[0]])
        self.origin = np.concatenate([self.origin, phase[1]])
        self.partials = np.concatenate([self.partials, partials])
        self.gains.extend(np.zeros(len(hz)))
        self.tables = self.tables.joined(Tables.of(hz, self.rate))
        self._stack = None

    def drop_silent(self, position: int) -> None:
        """Forget voices that have gone."""
        gone = (self.gains.target == 0.0) & ~self.gains.moving(position)
        if not gone.any():
            return
        stay = np.flatnonzero(~gone)
        self.hz, self.kind, self.partials = self.hz[stay], self.kind[stay], self.partials[stay]
        self.cycle, self.origin = self.cycle[stay], self.origin[stay]
        self.gains.keep(stay)
        self.tables = self.tables.kept(stay)
        self._stack = None

    def sound(self, position: int, count: int) -> Samples:
        """All voices over `count` samples (at most 512) from `position` on."""
        phasors = start_phasors(self.cycles(position))
        moving = self.gains.moving(position)
        result = self._steady(moving).sound(phasors, count)
        if moving.any():
            which = np.flatnonzero(moving)
            tones = each(self.tables.kept(which), phasors[which] * self.partials[which], count)
            result += self.gains.mixed(tones, which, position)
        return result

    def _steady(self, moving: NDArray[np.bool_]) -> Stack:
        """The stack of all voices whose gain rests, built anew only when these change."""
        if self._stack is None or not np.array_equal(self._stack[0], moving):
            gains = np.where(moving, 0.0, self.gains.target)
            self._stack = (moving, Stack.of(self.tables, self.partials * gains[:, None]))
        return self._stack[1]


class Drone:
    """Follows snapshots of the drone and makes its sound.

    Parameters
    ----------
    rate : int
        Samples per second.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._voices = Voices(rate)
        self._heard = DroneSound()
        self._gate = Fader()
        self._level = Fader(safe_gain(self._heard.level_db + HEADROOM_DB))
        self._next_change = 0

    def follow(self, sound: DroneSound, position: int) -> None:
        """Take a snapshot into account from `position` on; one that comes too soon is taken when it is shown again."""
        if sound is self._heard or position < self._next_change:
            return
        if sound != self._heard:
            self._next_change = position + SPACING
            self._change(sound, position)
        self._heard = sound

    def sound(self, position: int, count: int) -> Samples | None:
        """Sound of `count` samples (at most 512) from `position` on; None while the drone is silent."""
        if self._gate.shut(position):
            return None
        self._voices.drop_silent(position)
        if not len(self._voices):
            return None
        result = self._voices.sound(position, count)
        self._level.apply(result, position)
        self._gate.apply(result, position)
        return result

    def _change(self, sound: DroneSound, position: int) -> None:
        short = round(CHANGE_SECONDS * self._rate)
        level = safe_gain(sound.level_db + HEADROOM_DB)
        if self._gate.shut(position):
            self._voices, self._level, short = Voices(self._rate), Fader(level), 0
        self._level.aim(level, position, short)
        if sound.on:  # what is going out keeps its tones to the end, whatever the snapshot says of them
            self._aim(wanted_gains(sound.tones), _timbre(sound.timbre), position, short)
        seconds = min(max(FADE_RANGE[0], sound.fade_seconds), FADE_RANGE[1])  # the shortest for what is no number
        self._gate.aim(1.0 if sound.on else 0.0, position, round(seconds * self._rate))

    def _aim(self, gains: dict[float, float], timbre: Timbre, position: int, length: int) -> None:
        voices = self._voices
        voices.drop_silent(position)
        hz, gain = np.array(list(gains)), np.array(list(gains.values()))
        found = voices.find(hz, timbre)
        target = np.zeros(len(voices))
        target[found[found >= 0]] = gain[found >= 0]
        if (found < 0).any():
            new = hz[found < 0]
            voices.add(new, timbre, self._phases(new, target == 0.0, position))
            target = np.concatenate([target, gain[found < 0]])
        voices.gains.aim(target, position, length)

    def _phases(self, new: Floats, leaving: NDArray[np.bool_], position: int) -> tuple[Floats, NDArray[np.int64]]:
        """Phase of new tones: that of a leaving tone nearby, otherwise as if they had sounded since sample 0."""
        cycle, origin = np.zeros(len(new)), np.zeros(len(new), dtype=np.int64)
        donors = np.flatnonzero(leaving & (self._voices.gains.target > 0.0))
        if not len(donors):
            return cycle, origin
        voices = self._voices
        distance = np.abs(np.log(voices.hz[donors] / new[:, None]))
        donor, distance = donors[np.argmin(distance, axis=1)], distance.min(axis=1)
        cycle = np.where(distance <= math.log(NEAR), voices.cycles(position)[donor], cycle)
        origin = np.where(distance <= math.log(NEAR), position, origin)
        same = distance <= SAME_PITCH
        return np.where(same, voices.cycle[donor], cycle), np.where(same, voices.origin[donor], origin)


def kind_of(timbre: Timbre) -> int:
    """Place of a timbre in the table."""
    return TIMBRES.index(timbre)


def _timbre(name: str) -> Timbre:
    """The timbre of that name, the first one for a name that is not known: sound never stops for a wrong word."""
    return next((timbre for timbre in TIMBRES if timbre.name == name), TIMBRES[0])
