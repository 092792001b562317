"""The strongest partials of whatever sounds, a few times a second: what key and tonic are caught from."""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.heard_events import PartialsHeard
from firmware.hearing.filters import Signal
from firmware.hearing.own_stream import Hop
from firmware.units import db_of

WINDOW_HOPS: Final = 8
"""Hops of a window: 0.32 s."""

EVERY_HOPS: Final = 4
PADDED: Final = 8192
LOWEST_HZ: Final = 60.0
HIGHEST_HZ: Final = 1600.0
MOST: Final = 16
FAINTEST_DB: Final = -30.0
"""Partials this far under the strongest are left out; the window's side lobes lie under this."""

QUIETEST_DB: Final = -60.0
OVER_MEDIAN: Final = 30.0
"""A partial must rise 15 dB over the median of the spectrum around."""

OWN_SHARE: Final = 10 ** (-14 / 10)


class Partials:
    """Picks the strongest partials out of the cleaned stream.

    Parameters
    ----------
    rate : float
        Samples per second of the cleaned stream.
    hop : int
        Samples in a hop.
    """

    def __init__(self, rate: float, hop: int) -> None:
        self._hop = hop
        self._sound: list[Signal] = []
        self._count = 0
        self._window: Signal = np.hanning(WINDOW_HOPS * hop + 1)[:-1]
        self._bin_hz = rate / PADDED
        self._scale = 2 / float(self._window.sum())

    def add(self, hop: Hop) -> tuple[PartialsHeard, ...]:
        """Take in one hop; an event for every fourth, without partials when nothing but our own sound is heard."""
        power = float(hop.rest @ hop.rest) / len(hop.rest)
        self._count += 1
        heard = hop.removed is not None and db_of(power**0.5) > QUIETEST_DB and power > OWN_SHARE * hop.removed_power
        self._sound = [*self._sound, hop.rest][-WINDOW_HOPS:] if heard else []
        if self._count % EVERY_HOPS:
            return ()
        if len(self._sound) < WINDOW_HOPS:
            return (PartialsHeard(hop.end, ()),)
        return (PartialsHeard(hop.end, self._strongest(np.concatenate(self._sound))),)

    def _strongest(self, sound: Signal) -> tuple[tuple[float, float], ...]:
        size = np.abs(np.fft.rfft(sound * self._window, PADDED)) * self._scale
        low, high = int(LOWEST_HZ / self._bin_hz), int(HIGHEST_HZ / self._bin_hz)
        middle = size[low:high]
        least = max(10 ** (FAINTEST_DB / 20) * float(middle.max()), OVER_MEDIAN**0.5 * float(np.median(middle)), 1e-9)
        peaks = (middle > least) & (middle >= size[low - 1 : high - 1]) & (middle > size[low + 1 : high + 1])
        places = np.flatnonzero(peaks) + low
        places = np.sort(places[np.argsort(size[places])[::-1][:MOST]])
        before, here, after = (np.log(size[places + shift] + 1e-12) for shift in (-1, 0, 1))
        bend = before - 2 * here + after
        shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, 1.0), 0.0)
        hz = (places + shift) * self._bin_hz
        return tuple((round(float(f), 3), round(db_of(float(size[n])), 1)) for f, n in zip(hz, places, strict=True))
