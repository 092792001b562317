"""Finds the spectral lines of the box's own steady sound, to a ten-thousandth of a hertz."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal

Phasors = NDArray[np.complex128]
"""Complex amplitudes, shape (lines,)."""

SPANS: Final = (12_288, 6_144)
"""Samples of own sound that are searched, 1.02 s at 12 kHz; half of it fits between two clicks."""

PADDED: Final = 8_192
DEEPEST_DB: Final = -72.0
"""Lines this far under the strongest are left alone: the room's noise covers them."""

LOBE_BINS: Final = 4
"""Half width of the window's main lobe in bins of its own length."""

STEADY_DB: Final = -45.0
"""Sound whose energy outside its lines is stronger than this (relative to all of it) is not steady."""

MOST_LINES: Final = 256
SAME_HZ: Final = 0.02
RANK_FLOOR: Final = 1e-3
MOST_TOGETHER: Final = 4
"""Lines that are told apart inside one lobe."""


@lru_cache(maxsize=4)
def blackman_harris(length: int) -> Signal:
    """Return the four-term window with side lobes at -92 dB (Harris, *Proc. IEEE* 66(1), 1978)."""
    turn = 2 * np.pi * np.arange(length) / length
    terms = (0.35875, -0.48829, 0.14128, -0.01168)
    window: Signal = sum((term * np.cos(k * turn) for k, term in enumerate(terms)), np.zeros(length))
    window.flags.writeable = False
    return window


def find_lines(own: Signal, rate: float) -> Signal | None:
    """Frequencies of all lines of a steady sound.

    Parameters
    ----------
    own : Signal
        Noise-free sound, shape (n,), n a multiple of 32; one of `SPANS`.
    rate : float
        Samples per second.

    Returns
    -------
    Signal or None
        Hz, rising; None if the sound is not made of steady lines.

    Notes
    -----
    Lobes of a Blackman-Harris spectrum say where lines are; lines inside one lobe (a tempered fifth is 0.4 Hz off) are
    told apart by ESPRIT (Roy & Kailath, *IEEE Trans. ASSP* 37(7), 1989) on the run of that lobe over 17 frames.
    """
    span = len(own)
    spectrum = np.abs(np.fft.rfft(own * blackman_harris(span))) ** 2
    peaks = _peaks(spectrum)
    if not 0 < len(peaks) <= MOST_LINES or _outside(spectrum, peaks) > 10 ** (STEADY_DB / 10) * spectrum.sum():
        return None
    frame, step = span // 2, span // 32
    frames = np.lib.stride_tricks.sliding_window_view(own, frame)[::step]
    bins = np.fft.rfft(frames * blackman_harris(frame), PADDED, axis=1)
    places = np.rint(peaks * PADDED / span).astype(int)
    lobe = 1.5 * LOBE_BINS * rate / span
    found: list[float] = []
    for peak, place, angles in zip(peaks, places, _esprit(bins[:, places].T), strict=True):
        start = 2 * np.pi * place / PADDED
        turns = (angles - start * step + np.pi) % (2 * np.pi) - np.pi
        hz = (start + turns / step) * rate / (2 * np.pi)
        found.extend(hz[(np.abs(hz - peak * rate / span) < lobe) & (hz > 0)])
    return _distinct(np.sort(np.array(found)))


def _peaks(spectrum: Signal) -> NDArray[np.int64]:
    """Bins of local maxima above the floor."""
    floor = spectrum.max(initial=0.0) * 10 ** (DEEPEST_DB / 10)
    middle = spectrum[1:-1]
    rising = (middle > floor) & (middle >= spectrum[:-2]) & (middle > spectrum[2:])
    return np.flatnonzero(rising).astype(np.int64) + 1


def _outside(spectrum: Signal, peaks: NDArray[np.int64]) -> float:
    """Energy outside the lobes of the peaks."""
    free = np.ones(len(spectrum), dtype=bool)
    for shift in range(-LOBE_BINS - 1, LOBE_BINS + 2):
        free[np.clip(peaks + shift, 0, len(spectrum) - 1)] = False
    return float(spectrum[free].sum())


def _esprit(runs: NDArray[np.complex128]) -> list[Signal]:
    """Angles in radians per frame of the few exponentials that make up each run, shape (runs, frames)."""
    rows = runs.shape[1] // 2 + 1
    hankels = np.lib.stride_tricks.sliding_window_view(runs, rows, axis=1).swapaxes(1, 2)
    spaces, sizes, _ = np.linalg.svd(hankels, full_matrices=False)
    ranks = np.minimum(MOST_TOGETHER, (sizes > RANK_FLOOR * sizes[:, :1]).sum(axis=1))
    return [_angles(space[:, :rank]) for space, rank in zip(spaces, ranks, strict=True)]


def _angles(space: NDArray[np.complex128]) -> Signal:
    """Angles of the rotation that takes a signal subspace one frame on."""
    if space.shape[1] == 1:
        return np.array([np.angle(np.vdot(space[:-1], space[1:]))])
    values = np.linalg.eigvals(np.linalg.lstsq(space[:-1], space[1:], rcond=None)[0])
    return np.asarray(np.angle(values[np.abs(np.abs(values) - 1) < 0.05]), dtype=np.float64)


def _distinct(hz: Signal) -> Signal:
    """Drop what is the same line found from two peaks."""
    if not len(hz):
        return hz
    distinct: Signal = hz[np.concatenate([[True], np.diff(hz) > SAME_HZ])]
    return distinct
