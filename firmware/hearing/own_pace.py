"""Finds how far the microphone's clock is off that of own sound while the box plays alone, and follows it."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.hearing.clock_offset import ClockOffset, clock_offset
from firmware.hearing.filters import Signal

FIRST_SECONDS: Final = 2.2
"""So much of steady own sound alone is looked at first; with the room's build-up before it that makes 3 s."""

MOST_SECONDS: Final = 4.0
AGAIN_SECONDS: Final = 0.5
"""As long as nothing is found, how often it is looked for."""

SELDOM_SECONDS: Final = 8.0
"""The same once all that is kept has been looked at: there seems to be one clock."""

LEAST_PPM: Final = 1.0
SURE: Final = 3.0
"""One clock is taken for granted until the offset is more than this, and so many times its standard error."""

AGREED: Final = 0.95
"""Share of the phases that must agree: a steady player on our lines looks like another clock, but not on all of them.
"""

FINE_SD_PPM: Final = 1.0
"""An estimate that is no better than this waits for more sound."""

WANDERS_PPM: Final = 0.2
"""By so much two clocks may come further apart or closer within `MOST_SECONDS`: some parts in a million in minutes."""

HELD_PPM: Final = 0.05
"""How well the offset is known at best while it is not measured."""

DELAY_SHARE: Final = 0.5
"""Share of a delay found that goes into the offset as well: sound would not come late if the offset were right."""

HELPS: Final = 0.5
"""A delay is believed when putting it right leaves less than this share of what the prediction left: a room that has
changed since its check turns phases, too, but no delay makes up for that.
"""

WINDOW_SECONDS: Final = 0.25
LEAST_HZ: Final = 100.0
HIGHEST_HZ: Final = 5000.0
STRONG: Final = 1e-4


@dataclass(frozen=True, slots=True)
class Correction:
    """By how much to correct the offset, in parts in a million, and how many samples later own sound is to be read."""

    ppm: float
    samples: float = 0.0


class Pace:
    """Watches steady own sound that is heard alone.

    Parameters
    ----------
    rate : float
        Samples per second of the slow stream.
    hop : int
        Samples in a hop.

    Attributes
    ----------
    apart : bool
        Whether there are two clocks.
    sd_ppm : float
        How well their offset is known.
    """

    def __init__(self, rate: float, hop: int) -> None:
        self._rate = rate
        self._hop = hop
        most = self._hops(MOST_SECONDS)
        self._mics: deque[Signal] = deque(maxlen=most)
        self._owns: deque[Signal] = deque(maxlen=most)
        self._since = 0
        self.apart = False
        self.sd_ppm = 0.0
        self.idle = 0.0

    def _hops(self, seconds: float) -> int:
        return round(seconds * self._rate / self._hop)

    @property
    def late_sd(self) -> float:
        """Seconds by which own sound may come off, as far as that is known."""
        return self.sd_ppm * 1e-6 * self.idle

    def known(self, ppm: float, sd_ppm: float) -> None:
        """Begin anew with an offset that was found elsewhere."""
        self.clear()
        self.apart = ppm != 0.0
        self.sd_ppm = max(sd_ppm, HELD_PPM) if self.apart else 0.0
        self.idle = 0.0

    def clear(self) -> None:
        """Forget the stretch: something else than own sound alone was heard."""
        self._mics.clear()
        self._owns.clear()
        self._since = 0

    def add(self, mic: Signal, own: Signal, predicted: Signal | None) -> Correction | None:
        """Take in a hop of microphone and own sound, on the clock as known, while own sound is steady and alone.

        Parameters
        ----------
        mic, own : arrays of shape (hop,)
            One hop each.
        predicted : array of shape (hop,) or None
            What the room check makes the microphone hear; its delay is then followed, too.

        Returns
        -------
        Correction or None
            None while there is nothing to correct.
        """
        self._mics.append(mic)
        self._owns.append(own if predicted is None else predicted)
        self._since += 1
        if not self._due():
            return None
        heard, played = np.concatenate(self._mics), np.concatenate(self._owns)
        found = clock_offset(heard, played, self._rate)
        if found is None or found.agreement < AGREED:
            return None
        if not self.apart:
            return self._first(found)
        self._since = 0
        if predicted is None:
            return self._followed(found)
        late, left = delay_between(heard, played, self._rate)
        return self._kept_in_step(late) if left < HELPS else self._followed(found)

    def _due(self) -> bool:
        if self.apart:
            return self._since >= self._hops(MOST_SECONDS)
        first, again = self._hops(FIRST_SECONDS), AGAIN_SECONDS
        if self._since > self._hops(MOST_SECONDS):
            again = SELDOM_SECONDS
        return self._since >= first and (self._since - first) % self._hops(again) == 0

    def _first(self, found: ClockOffset) -> Correction | None:
        if found.sd_ppm > FINE_SD_PPM or abs(found.ppm) < max(LEAST_PPM, SURE * found.sd_ppm):
            return None
        self.known(found.ppm, found.sd_ppm)
        return Correction(found.ppm)

    def _followed(self, found: ClockOffset) -> Correction:
        """Weigh what was found against what was known (a Kalman filter of one number)."""
        before = self.sd_ppm**2 + WANDERS_PPM**2
        share = before / (before + found.sd_ppm**2)
        self.sd_ppm = math.sqrt((1.0 - share) * before)
        return Correction(share * found.ppm)

    def _kept_in_step(self, late: float) -> Correction:
        seconds = max(self.idle, MOST_SECONDS)
        self.idle = 0.0
        self.sd_ppm = HELD_PPM
        return Correction(DELAY_SHARE * late / (seconds * self._rate) * 1e6, -late)


def delay_between(mic: Signal, predicted: Signal, rate: float) -> tuple[float, float]:
    """Samples by which the microphone hears own sound later than predicted.

    Parameters
    ----------
    mic, predicted : arrays of shape (n,)
        Microphone, and what was predicted for it.
    rate : float
        Samples per second of both.

    Returns
    -------
    tuple of (float, float)
        The delay, and what share of the power that the prediction leaves is still left when it comes so much later.

    Notes
    -----
    Least squares on the phases of the averaged cross-spectrum, which rise in proportion to frequency (Knapp & Carter
    1976, IEEE TASSP 24), each weighted by its power.
    """
    span = round(WINDOW_SECONDS * rate)
    frames = np.arange(0, len(mic) - span + 1, span // 2)[:, None] + np.arange(span)
    window = np.hanning(span)
    heard, known = (np.fft.rfft(sound[frames] * window, axis=1) for sound in (mic, predicted))
    cross = np.mean(heard * np.conj(known), axis=0)
    power = np.mean(np.abs(known) ** 2, axis=0)
    hz = np.fft.rfftfreq(span, 1.0 / rate)
    used = (power > STRONG * power.max(initial=0.0)) & (hz > LEAST_HZ) & (hz < HIGHEST_HZ)
    angle = 2 * np.pi * hz[used] / rate
    weight = np.sqrt(power[used])
    moment = float(np.sum(weight * angle**2))
    if moment <= 0:
        return 0.0, 1.0
    late = -float(np.sum(weight * angle * np.angle(cross[used]))) / moment
    both = float(np.sum(np.mean(np.abs(heard[:, used]) ** 2, axis=0) + power[used]))
    left = both - 2 * float(np.sum(cross[used].real))
    return late, (both - 2 * float(np.sum((cross[used] * np.exp(1j * angle * late)).real))) / max(left, 1e-30)
