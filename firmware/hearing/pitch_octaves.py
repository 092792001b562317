"""Tells a tone from its octave, its twelfth and their like: which partials are really there."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal
from firmware.hearing.harmonic import Window
from firmware.hearing.pitch_spectrum import HIGHEST_HZ, partials_of
from firmware.hearing.pitch_windows import Pitch

ODD_SHARE: Final = 0.006
"""Share of the energy that the partials between those of the octave above must carry to be believed."""

FALLEN_SHARE: Final = 0.1
"""The same share when the reading before was that octave or twelfth above."""

FEWEST_PERIODS: Final = 2.0
"""A half must hold so many periods to tell its partials apart; a shorter one counts as a whole."""

CHANGING: Final = 0.65
"""A tone begins or ends where one half of the window has less than this share of the energy of the other."""

PRESENT: Final = 0.001
"""A partial with this share of the energy (-30 dB) is there."""

RUN: Final = slice(2, 13)
IN_RUN: Final = 0.003
"""A run of partials without a gap, each with this share (-25 dB), is of one tone."""

NOISE_SPREADS: Final = 3.0
"""Standard deviations of noise that partials must rise over to be believed."""

CLEAR_SHARE: Final = 0.93
RESCUED: Final = 0.4
"""A lower pitch is believed after all if it explains so much, and leaves only so much of what the higher one left."""


def supported(sound: Signal, omega: float, rate: float, hint: float | None) -> float:
    """Raise a fundamental whose own partials are not really there to the one whose are.

    Parameters
    ----------
    sound : Signal
        The longest window, shape (n,).
    omega : float
        The fundamental that explains it best, radians per sample.
    rate : float
        Samples per second.
    hint : float or None
        Hz of the reading before; a fall from it to its octave or twelfth needs more support while the level changes.

    Returns
    -------
    float
        Radians per sample: `omega`, or 2, 3, 4 ... times it.

    Notes
    -----
    Where a tone begins or ends inside the window its partials have sidebands that a subharmonic explains. They are in
    one half only, so the partials that are not multiples of 2, or of 3, must carry energy in both halves. Of a note
    that began before the middle, only the second half is asked: in the first, noise has its say.
    """
    hz = omega * rate / (2 * math.pi)
    partials = partials_of(hz)
    halves = [Window(half) for half in np.split(sound, 2)]
    if halves[0].energy < CHANGING * halves[1].energy and halves[1].evenness() >= CHANGING:
        sound = sound[len(sound) // 4 * 2 :]
        halves = [Window(half) for half in np.split(sound, 2)]
    loudest = max(half.energy for half in halves)
    unsteady = min(half.energy for half in halves) < CHANGING * loudest
    halves = [half for half in halves if half.energy > 0.03 * loudest]
    if len(sound) * hz < 2 * FEWEST_PERIODS * rate:
        halves = [Window(sound)]
    parts = [half.fit(omega, partials, improve=False) for half in halves]
    noises = [half.noise(fit) for half, fit in zip(halves, parts, strict=True)]
    for multiple in (2, 3, 5):
        if partials < multiple or multiple * hz > HIGHEST_HZ:
            continue
        fell = unsteady and hint is not None and abs(math.log2(hint / (multiple * hz))) < 0.03
        least = FALLEN_SHARE if fell else ODD_SHARE
        if not all(_between(fit.power, noise, multiple, least) for fit, noise in zip(parts, noises, strict=True)):
            return supported(sound, multiple * omega, rate, hint)
    return omega


def single(pitch: Pitch) -> bool:
    """Whether the low partials are those of one tone rather than of a chord's common fundamental.

    A chord's common fundamental lacks the first partial and others; a player may lack the first, then has the second,
    third and fifth. A low reed may lack the second too, but then has all from the third to the thirteenth; no chord of
    small numbers has.
    """
    share = pitch.power / max(float(np.maximum(pitch.power, 0.0).sum()), 1e-300)
    there = share > PRESENT
    if there[0] or (len(there) >= 5 and there[1] and there[2] and there[4]):
        return True
    return len(share) >= RUN.stop and bool((share[RUN] > IN_RUN).all())


def _between(power: NDArray[np.float64], noise: float, multiple: int, least: float) -> bool:
    """Whether the partials that are no multiples are there: enough of them, and more than noise would bring.

    Where noise would bring the multiples as well there is nothing to raise the fundamental to, and the answer is yes.
    """
    at_multiples = power[multiple - 1 :: multiple]
    free = len(power) - len(at_multiples)
    energy = float(power.sum() - at_multiples.sum()) - 2 * noise * free
    if energy > least * float(power.sum()) and energy > NOISE_SPREADS * 2 * noise * math.sqrt(free):
        return True
    raised = float(at_multiples.sum()) - 2 * noise * len(at_multiples)
    return raised < NOISE_SPREADS * 2 * noise * math.sqrt(len(at_multiples))


def clearer(lower: Pitch, pitch: Pitch) -> bool:
    """Whether a lower pitch explains nearly all, far more than another, and by partials that the other lacks."""
    left = 1 - lower.share
    if lower.share < CLEAR_SHARE or left > RESCUED * (1 - pitch.share):
        return False
    power = np.maximum(lower.power, 0.0)
    total = float(power.sum())
    least = (ODD_SHARE + 2 * left) * total
    return all(len(power) < m or total - power[m - 1 :: m].sum() > least for m in (2, 3))


def has_all(pitch: Pitch) -> bool:
    """Whether partials that are no multiples of 2, of 3 or of 5 carry energy."""
    power = np.maximum(pitch.power, 0.0)
    total = float(power.sum())
    return all(len(power) < m or power[m - 1 :: m].sum() < (1 - ODD_SHARE) * total for m in (2, 3, 5))
