"""Reads a note that began a moment ago in all of it that has sounded, between the lengths of the ear's windows."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from firmware.hearing.filters import Signal
from firmware.hearing.harmonic import Fit, Window
from firmware.hearing.pitch_spectrum import partials_of
from firmware.hearing.pitch_windows import LONGER_WORSE, Pitch, agree

STEPS: Final = 4
"""Halvings of what lies between two windows: the beginning is found to a sixteenth of the shorter one."""

MORE_LEFT: Final = 0.002
"""A longer window may leave so much more of the tone, whatever the noise."""

WEAKER: Final = 0.02
SPREADS: Final = 2.0
"""And its tone may be so much weaker, and so many standard deviations of the noise."""


def grown(pitch: Pitch, sound: Signal, rate: float) -> Pitch:
    """Read a pitch in the longest window in which the tone is the same all the time.

    Parameters
    ----------
    pitch : Pitch
        What was read at the end of the sound, steady.
    sound : Signal
        Whitened sound, shape (n,).
    rate : float
        Samples per second.

    Returns
    -------
    Pitch
        With `hz`, `length`, `power` and `error` of that window, less than twice as long, or `pitch` itself.

    Notes
    -----
    The error in noise falls with the length to the power of 1.5. What is no part of the tone is left whole by its fit:
    at 20 dB, a hundredth of the window of it doubles what is left.
    """
    partials = partials_of(pitch.hz)
    short, long = pitch.length, min(2 * pitch.length, len(sound))
    window = Window(sound[-short:])
    fit = window.corrected(2 * math.pi * pitch.hz / rate, partials)
    best = _read(pitch, window, fit, rate)
    if not agree(best, pitch):
        return pitch
    for _ in range(STEPS):
        middle = (short + long) // 4 * 2
        if middle <= short:
            break
        wider = Window(sound[-middle:])
        more = wider.corrected(fit.omega, partials)
        there = _read(pitch, wider, more, rate)
        if _holds((wider, more), (window, fit)) and agree(there, best):
            short, window, fit, best = middle, wider, more, there
        else:
            long = middle
    return best


def _read(pitch: Pitch, window: Window, fit: Fit, rate: float) -> Pitch:
    hz = fit.omega * rate / (2 * math.pi)
    return replace(pitch, hz=hz, length=window.length, power=fit.power, error=window.error(fit))


def _holds(long: tuple[Window, Fit], short: tuple[Window, Fit]) -> bool:
    """Whether a longer window holds the same tone: as strong in each sample, and no more is left, chance apart.

    Of what a window of n samples holds in part only, its fit explains the square of that part. Power is measured with a
    variance of 4 times itself times that of the noise over n, and windows that share their end share that much of it.
    """
    powers = [fit.explained / window.length for window, fit in (long, short)]
    noises = [window.noise(fit) for window, fit in (long, short)]
    chance = 4 * max(powers) * noises[1] * (1 / short[0].length - 1 / long[0].length)
    free = max(short[0].length - 2 * len(short[1].power), 2)
    most = LONGER_WORSE * (1 + 2 * math.sqrt(2 / free)) * noises[1] + MORE_LEFT * powers[1]
    return powers[0] >= (1 - WEAKER) * powers[1] - SPREADS * math.sqrt(chance) and noises[0] <= most
