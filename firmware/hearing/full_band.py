"""Sharpens the pitch of a steady tone by its partials above the ear's usual band, which know it best."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal, whitener
from firmware.hearing.harmonic import Window
from firmware.hearing.pitch_spectrum import TOP_HZ
from firmware.hearing.pitch_windows import Pitch, agree

HIGHEST_PARTIAL_HZ: Final = 20_000.0
MOST_PARTIALS: Final = 24
TAPS: Final = 33
"""Length of the whitening filter here, where the low partials matter less."""

STEADY_SHARE: Final = 0.3


def pays(pitch: Pitch) -> bool:
    """Whether a tone is steady and has partials over the ear's usual band."""
    return not pitch.moves and pitch.share >= STEADY_SHARE and _partials(pitch.hz) * pitch.hz >= 1.2 * TOP_HZ


def _partials(hz: float) -> int:
    return min(MOST_PARTIALS, int(HIGHEST_PARTIAL_HZ / hz))


def sharpened(pitch: Pitch, white: Signal, rate: float) -> Pitch:
    """Read a pitch once more with all its partials.

    Parameters
    ----------
    pitch : Pitch
        What was read up to 5 kHz.
    white : Signal
        The same stretch at the full rate, whitened, shape (n,), n even.
    rate : float
        Its samples per second.

    Returns
    -------
    Pitch
        The same tone with `hz` and `error` made better, or `pitch` itself where that brings nothing or disagrees.

    Notes
    -----
    What a partial knows of the pitch grows with the square of its number (Cramér-Rao bound, Kay 1993, 3.11); in pink
    noise the partials over 5 kHz of a bright tone at 1 kHz know four times as much as those under it. The pitch is
    known so well already that one correction is enough, unless that is a large one.
    """
    if not pays(pitch):
        return pitch
    window = Window(white)
    if window.energy <= 0:
        return pitch
    fit = window.corrected(2 * math.pi * pitch.hz / rate, _partials(pitch.hz))
    better = replace(pitch, hz=fit.omega * rate / (2 * math.pi), error=window.error(fit))
    return better if better.error < pitch.error and agree(better, pitch) else pitch


def whitened(sound: Signal) -> Signal:
    """A stretch of sound at the full rate, shape (n,), whitened; shape (n - TAPS + 1,).

    What was before is not known, so its first sample stands for the sample `TAPS - 1` of `sound`.
    """
    white: Signal = np.convolve(sound, whitener(TAPS), "valid")
    return white


class FullBand:
    """The newest part of the microphone at its full rate, whitened only when it is asked for.

    Parameters
    ----------
    length : int
        Samples that may be asked for.
    """

    def __init__(self, length: int) -> None:
        self._length = length
        self._waiting: Signal = np.zeros(0)
        self._white: Signal = np.zeros(0)

    @property
    def there(self) -> bool:
        """Whether there is anything, that is whether our own sound is silent."""
        return len(self._waiting) > 0

    def add(self, sound: Signal | None) -> None:
        """Take in what comes next, shape (n,); None if own sound may be in it: what was there before is forgotten."""
        if sound is None:
            self._waiting, self._white = np.zeros(0), np.zeros(0)
            return
        self._waiting = np.concatenate([self._waiting, sound])
        most = self._length + TAPS - 1
        if len(self._waiting) > most:
            self._waiting, self._white = self._waiting[-most:], np.zeros(0)

    def newest(self, length: int) -> Signal | None:
        """The last samples, whitened, shape (length,); None if there are not so many yet."""
        if len(self._waiting) >= TAPS:
            self._white = np.concatenate([self._white, whitened(self._waiting)])[-self._length :]
            self._waiting = self._waiting[1 - TAPS :]
        return self._white[-length:] if len(self._white) >= length else None
