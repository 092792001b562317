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


def sharpened(pitch: Pitch, sound: Signal, rate: float) -> Pitch:
    """Read a pitch once more with all its partials.

    Parameters
    ----------
    pitch : Pitch
        What was read up to 5 kHz.
    sound : Signal
        The same stretch at the full rate, not whitened, shape (n,), n even.
    rate : float
        Its samples per second.

    Returns
    -------
    Pitch
        The same tone with `hz` and `error` made better, or `pitch` itself where that brings nothing or disagrees.

    Notes
    -----
    What a partial knows of the pitch grows with the square of its number (Cramér-Rao bound, Kay 1993, 3.11); in pink
    noise the partials over 5 kHz of a bright tone at 1 kHz know four times as much as those under it.
    """
    partials = min(MOST_PARTIALS, int(HIGHEST_PARTIAL_HZ / pitch.hz))
    if pitch.moves or pitch.share < STEADY_SHARE or partials * pitch.hz < 1.2 * TOP_HZ:
        return pitch
    white = np.convolve(sound, whitener(TAPS))[TAPS // 2 : len(sound)]
    window = Window(white[len(white) % 2 :])
    if window.energy <= 0:
        return pitch
    fit = window.refine(2 * math.pi * pitch.hz / rate, partials, 2)
    better = replace(pitch, hz=fit.omega * rate / (2 * math.pi), error=window.error(fit))
    return better if better.error < pitch.error and agree(better, pitch) else pitch
