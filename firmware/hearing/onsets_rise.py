"""Where something new begins: how far the spectrum rises above what sounded just before, in decibels."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

WINDOW: Final = 1024
HOP: Final = 128
"""Samples of a frame, and from frame to frame: 43 and 5.3 ms at 24 kHz."""

LAG: Final = 4
"""Frames back to what is compared: half a window."""

BANDS_PER_OCTAVE: Final = 24
LOWEST_HZ: Final = 60.0
HIGHEST_HZ: Final = 11_000.0

NEIGHBOURS: Final = 1
"""Bands to each side that may have held the sound before: a vibrato is no rise."""

QUIETEST: Final = 10 ** (-78 / 20)
"""Amplitude of a partial that counts as nothing."""

BENEATH: Final = 10 ** (-38 / 20)
"""A band this far under the loudest of its frame counts as nothing."""

WINDOW_SHAPE: Final[Signal] = np.hanning(WINDOW + 1)[:-1]


@lru_cache(maxsize=2)
def band_edges(rate: float) -> tuple[int, ...]:
    """First bin of each band, and the bin after the last; every band has a bin of its own at least."""
    octaves = np.log2(HIGHEST_HZ / LOWEST_HZ)
    hz = LOWEST_HZ * 2.0 ** np.linspace(0.0, octaves, round(octaves * BANDS_PER_OCTAVE))
    return tuple(int(bin_) for bin_ in np.unique(np.round(hz * WINDOW / rate)))


def band_power(power: Signal, rate: float) -> Signal:
    """Largest power in each band, shape (frames, bands), from the power of the bins, shape (frames, bins)."""
    edges = band_edges(rate)
    result: Signal = np.maximum.reduceat(power[:, : edges[-1]], edges[:-1], axis=1)
    return result


class Rise:
    """Measures the rise of a stream.

    Parameters
    ----------
    rate : float
        Samples per second.

    Notes
    -----
    Spectral flux against the maximum of neighbouring bands a few frames before (S. Böck and G. Widmer, "Maximum filter
    vibrato suppression for onset detection", DAFx 2013; from memory), but in decibels above a floor: what the room, the
    loudest band and the rest of the box's own sound may hide does not count.
    """

    def __init__(self, rate: float) -> None:
        self._rate = rate
        self._sound: Signal = np.zeros(WINDOW - HOP)
        self._levels: Signal | None = None

    def process(self, sound: Signal, hidden: Signal) -> Signal:
        """Rise of the frames that end in a stretch.

        Parameters
        ----------
        sound : Signal
            The next stretch, shape (n,), n a multiple of HOP.
        hidden : Signal
            Power in each bin of a frame under which the box's own sound may hide, shape (WINDOW // 2 + 1,).

        Returns
        -------
        Signal
            Mean rise of the bands in dB, shape (n / HOP,).
        """
        stretch = np.concatenate([self._sound, sound])
        self._sound = stretch[len(sound) :]
        frames = np.lib.stride_tricks.sliding_window_view(stretch, WINDOW)[::HOP]
        power = np.abs(np.fft.rfft(frames * WINDOW_SHAPE, axis=1)) ** 2
        bands = band_power(power, self._rate)
        loudest = bands.max(axis=1, keepdims=True)
        quiet = (QUIETEST * WINDOW_SHAPE.sum() / 2) ** 2
        floor = np.maximum(np.maximum(band_power(hidden[None, :], self._rate), quiet), BENEATH**2 * loudest)
        before = self._levels if self._levels is not None else np.repeat(bands[:1], LAG, axis=0)
        held = np.concatenate([before, bands])
        self._levels = held[-LAG:]
        ground = np.maximum(widened(held[:-LAG]), floor)
        result: Signal = 10 * np.log10(np.maximum(bands, floor) / ground).clip(0.0, None).mean(axis=1)
        return result


def widened(bands: Signal) -> Signal:
    """Each band's largest power among its neighbours, shape (frames, bands)."""
    result = bands.copy()
    for step in range(1, NEIGHBOURS + 1):
        result[:, step:] = np.maximum(result[:, step:], bands[:, :-step])
        result[:, :-step] = np.maximum(result[:, :-step], bands[:, step:])
    return result
