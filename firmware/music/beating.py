"""Beats of a mistuned interval: how fast its lowest coinciding partials rise and fall against each other."""

from __future__ import annotations

from typing import Final

from firmware.music.intervals import Interval
from firmware.units import ratio_of

HIGHEST_PARTIAL: Final = 16
"""Partials above this are too weak to be heard beating."""


def beats_of(root_hz: float, interval: Interval, cents: float) -> float | None:
    """Beats per second of an interval that is mistuned by some cents.

    Of a just interval p/q the q-th partial of the upper tone falls on the p-th of the lower one. When the upper tone is
    off, the two beat as often a second as they lie apart in Hz (Helmholtz, On the Sensations of Tone, tr. Ellis, on the
    beats of upper partials).

    Parameters
    ----------
    root_hz : float
        Frequency of the lower tone in Hz.
    interval : Interval
        The just interval.
    cents : float
        How far the upper tone lies above its just place.

    Returns
    -------
    float or None
        Beats per second, never negative; None for an interval whose partials meet nowhere among the first sixteen.
    """
    just = interval.fraction
    if just is None or max(just.numerator, just.denominator) > HIGHEST_PARTIAL:
        return None
    return just.numerator * root_hz * abs(ratio_of(cents) - 1.0)
