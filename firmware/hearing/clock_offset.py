"""How far the microphone's clock is off that of own sound, told from any steady sound that the box plays."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal

WINDOW_SECONDS: Final = 0.25
GREATEST_PPM: Final = 600.0
FINEST_PPM: Final = 0.5

STRONG: Final = 1e-5
"""Bins of own sound with this share of its greatest power are used."""

STEADY_DB: Final = 0.5
"""Own sound must stay so steady in a bin from window to window."""

HIGHEST_HZ: Final = 5000.0
LEAST_WINDOWS: Final = 6
SURE: Final = 0.5
"""Share of the weight whose phases must agree."""


@dataclass(frozen=True, slots=True)
class ClockOffset:
    """Parts in a million by which the microphone's clock runs fast, its standard error, and how well phases agree."""

    ppm: float
    sd_ppm: float
    agreement: float


def clock_offset(mic: Signal, own: Signal, rate: float) -> ClockOffset | None:
    """Estimate the offset of the clocks from a stretch in which own sound is steady and has filled the room.

    Parameters
    ----------
    mic, own : arrays of shape (n,)
        Microphone and own sound, each on its own clock, from about the same moment on; 2 s or more.
    rate : float
        Nominal samples per second of both.

    Returns
    -------
    ClockOffset or None
        None where own sound has too few steady bins, or their phases do not agree.

    Notes
    -----
    A steady room turns each line of own sound by a fixed phase. With clocks apart by d, that phase goes on turning by
    -2 pi f d t (a fast microphone takes more samples for the same line, which looks lower). In windows of a quarter of
    a second the cross-spectrum is taken in every bin where own sound is strong; d is where the turned-back
    cross-spectra add up to the most (a search, then Gauss-Newton on the phases). Lines that share a bin beat, in own
    sound and microphone alike but not with the same phase: bins whose power is not steady are left out.
    """
    step = round(WINDOW_SECONDS * rate) // 2
    span = 2 * step
    count = (min(len(mic), len(own)) - span) // step + 1
    if count < LEAST_WINDOWS:
        return None
    window = np.hanning(span + 2)[1:-1]
    frames = np.arange(count)[:, None] * step + np.arange(span)
    played = np.fft.rfft(np.asarray(own, dtype=np.float64)[frames] * window, axis=1)
    heard = np.fft.rfft(np.asarray(mic, dtype=np.float64)[frames] * window, axis=1)
    hz: Signal = np.fft.rfftfreq(span, 1.0 / rate).astype(np.float64)
    power = np.abs(played) ** 2
    used = _steady(power, hz)
    # A microphone that is muted gives zeros, to the last bit.
    if not np.any(heard[:, used]):
        return None
    # Divided by the size of own sound alone, so that each bin counts by its power at the microphone against pink noise.
    cross = (heard * np.conj(played))[:, used] * np.sqrt(hz[used] / np.mean(power[:, used], axis=0))
    time = np.arange(count) * step / rate
    return _fit(cross, 2 * np.pi * hz[used], time - time.mean())


def _steady(power: Signal, hz: Signal) -> NDArray[np.bool_]:
    mean = np.mean(power, axis=0)
    if float(mean.max()) <= 1e-12:
        return np.zeros(len(hz), dtype=bool)
    spread = np.std(10 * np.log10(np.maximum(power, 1e-30)), axis=0)
    return np.asarray((mean > STRONG * mean.max()) & (spread < STEADY_DB) & (hz > 30.0) & (hz < HIGHEST_HZ))


def _fit(cross: NDArray[np.complex128], angular: Signal, time: Signal) -> ClockOffset | None:
    weight = np.sum(np.abs(cross), axis=0)

    def summed(offset: float) -> NDArray[np.complex128]:
        turned: NDArray[np.complex128] = np.sum(cross * np.exp(1j * offset * np.outer(time, angular)), axis=0)
        return turned

    fineness = max(FINEST_PPM, 0.1e6 / (float(angular.max()) / (2 * np.pi) * 2 * float(time[-1])))
    steps = math.ceil(GREATEST_PPM / fineness)
    grid = np.arange(-steps, steps + 1) * fineness * 1e-6
    scores = [float(np.sum(np.abs(summed(offset)) ** 2)) for offset in grid]
    offset = float(grid[int(np.argmax(scores))])
    error = 0.0
    for _ in range(4):
        back = np.exp(1j * offset * np.outer(time, angular))
        mean = np.sum(cross * back, axis=0)
        left = np.angle(cross * back * np.conj(mean))
        size = np.abs(cross) ** 2
        slope = np.outer(time, angular)
        moment = float(np.sum(size * slope**2))
        offset -= float(np.sum(size * slope * left)) / moment
        # Neighbouring windows overlap by half and neighbouring bins by the window's main lobe: one in six counts.
        error = math.sqrt(6.0 * float(np.sum((size * slope * left) ** 2))) / moment
    agreement = float(np.sum(np.abs(summed(offset))) / np.sum(weight))
    if agreement < SURE:
        return None
    return ClockOffset(1e6 * offset, 1e6 * error, agreement)
