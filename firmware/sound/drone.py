"""The drone: exact tones that come, go and change without a click.

What a click is
---------------
A change is free of clicks when what is heard is the *ideal cross-fade*: the sum of steady tones, each times a gain that
has no jump, no kink and no sudden bend, and nothing else. So two things are measured (tests/firmware/sound):

- the output differs from the ideal cross-fade of two steady outputs by less than -60 dB of full scale in every sample
  (measured: -119 dB);
- above the highest partial that sounds, any 512-sample Hann window over the change holds less than -60 dB of full scale
  (measured: -105 dB, what the window lets through of the steady sound too), even if gains are aimed anew in each block.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from firmware.sound.phases import Phases
from firmware.sound.phasors import CHUNK
from firmware.sound.ramp import Fader
from firmware.sound.snapshot import DroneSound, ToneSound
from firmware.sound.timbre import Timbre
from firmware.sound.timbres import TIMBRES
from firmware.sound.voices import Voices
from firmware.units import Samples, gain_of

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

LEVEL_RANGE: Final = (-120.0, 40.0)
"""Levels are held within these, in dB."""


def safe_gain(level_db: float) -> float:
    """Amplitude factor of a level, whatever is asked for: held within the range, and nothing for what is no number."""
    if math.isnan(level_db) or level_db <= LEVEL_RANGE[0]:
        return 0.0
    return gain_of(min(level_db, LEVEL_RANGE[1]))


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
        self._phases = Phases()
        self._next_change = 0

    def follow(self, sound: DroneSound, position: int) -> None:
        """Take a snapshot into account from `position` on; one that comes too soon is taken when it is shown again.

        What is due in the first half of a chunk is taken at its beginning.
        """
        if sound.then is not None and position + CHUNK // 2 >= sound.due:
            sound = sound.then
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
            voices.add(new, timbre, self._phases.choose(new, voices, target == 0.0, position))
            target = np.concatenate([target, gain[found < 0]])
        voices.gains.aim(target, position, length)


def _timbre(name: str) -> Timbre:
    """The timbre of that name, the first one for a name that is not known: sound never stops for a wrong word."""
    return next((timbre for timbre in TIMBRES if timbre.name == name), TIMBRES[0])
