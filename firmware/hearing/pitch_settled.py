"""Reads a pitch once more in one window as a whole: evenly in noise, its middle most where the tone itself changes."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal
from firmware.hearing.harmonic import Fit, Window
from firmware.hearing.pitch_spectrum import partials_of
from firmware.hearing.pitch_windows import Pitch, few_first

FEWEST_PERIODS: Final = 4.05
"""With fewer in a window there is nothing between its partials to know the noise by."""

FINER: Final = 4
MIDDLE: Final = 0.13
"""With few periods, bins are a quarter as wide, and those within so many whole bins of the middle are between."""

LOBE: Final = 2.0
"""Bins to each side of a partial that are its own under a Hann window."""

NOISE_SHARE: Final = 0.7
"""Where the noise between the partials is less than this share of what a steady tone leaves, the tone changes."""

CLEAR: Final = 0.002
"""With less than this share left there is hardly any noise that could be read worse."""

LEAKS: Final = 0.05
"""So much of what is above the band may be taken for what is left in it."""

ROUNDS: Final = 3


def settled(pitch: Pitch, sound: Signal, rate: float) -> Pitch:
    """Read a pitch in the whole of a window.

    Parameters
    ----------
    pitch : Pitch
        What was read, in this window or a part of it.
    sound : Signal
        Whitened sound, shape (n,).
    rate : float
        Samples per second.

    Returns
    -------
    Pitch
        With `hz`, `length` and `error` of this window.

    Notes
    -----
    Least squares that weigh each moment alike are the most exact where noise is all that they leave. What a player does
    - a swell, a bend, another vowel - is left too, lies close to the partials, and at the ends of the window pulls the
    pitch most; there cos^4 weights leave a thirtieth of that, at twice the error in noise.
    """
    sound = sound[len(sound) % 2 :]
    window, partials = Window(sound), partials_of(pitch.hz)
    fit = _refined(window, 2 * math.pi * pitch.hz / rate, partials, staged=pitch.length != window.length)
    error, moves = window.error(fit), changes(fit, sound)
    if moves:
        fit, error = _refined(Window(sound, tapered=True), fit.omega, partials, staged=True), 2 * error
    return replace(pitch, hz=fit.omega * rate / (2 * math.pi), length=window.length, error=error, moves=moves)


def _refined(window: Window, omega: float, partials: int, *, staged: bool) -> Fit:
    """Refine until nothing moves, with few partials first where the pitch may be far off."""
    for few in few_first(partials) if staged else ():
        omega = window.nearer(omega, few)
    return window.refine(omega, partials, ROUNDS)


def changes(fit: Fit, sound: Signal) -> bool:
    """Whether what a steady tone leaves in its band lies at its partials rather than between them."""
    periods = len(sound) * fit.omega / (2 * math.pi)
    if periods < FEWEST_PERIODS:
        return False
    finer = FINER if periods < 2 * FEWEST_PERIODS else 1
    bins = np.fft.rfft(sound * _hann(len(sound)), finer * len(sound))
    power: Signal = bins.real**2 + bins.imag**2
    partials = len(fit.power)
    band = power[: min(len(power), round((partials + 0.6) * periods * finer))]
    places = np.arange(len(band)) / (periods * finer)
    between = np.abs(places - np.rint(places)) * periods > min(LOBE, periods / 2 - MIDDLE)
    floor = float(np.median(band[between])) / math.log(2) * len(band) / float(power.sum())
    inside = float(band.sum() / power.sum())
    left = inside - fit.explained / float(sound @ sound)
    if left + 1 - inside < CLEAR:
        return True
    return left > max(floor / NOISE_SHARE, LEAKS * (1 - inside))


@lru_cache(maxsize=8)
def _hann(length: int) -> Signal:
    window: Signal = np.hanning(length + 1)[:-1]
    window.flags.writeable = False
    return window
