"""Suspects a microphone whose gain follows the level: automatic gain control, which spoils levels and removal alike."""

from __future__ import annotations

import math
from collections import deque
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Decimator, Signal, numbers
from firmware.units import RATE, Samples

FACTOR: Final = 4
WINDOW: Final = 4_096
"""Samples at the lower rate that are looked at together: a third of a second."""

STRONG: Final = 1e-4
"""Bins of own sound with this share of its greatest power are compared."""

LEAST_BINS: Final = 8
SAME_DB: Final = 1.0
"""Own sound whose bins change by less from window to window is steady."""

LEAST_RISE_OF_LEVEL_DB: Final = 3.0
"""Only rises of the level count: automatic gain comes down at once, but may take seconds to come back."""

ALIKE: Final = 0.5
"""Half of the bins must change within this of their median: a gain changes all alike, a player only some of them."""

PAIRS_KEPT: Final = 180
LEAST_PAIRS: Final = 5
STEEPEST: Final = -0.3
"""Gain per level, dB per dB, under which the gain follows: -0.3 is compression of 1.4 to 1."""

DROP_DB: Final = 15.0
PAUSE_WINDOWS: Final = 9
EARLY: Final = slice(3, 5)
LATE: Final = slice(7, 9)
"""Windows of a pause that are compared: from 1 to 1.7 s, when the room has rung out, and from 2.4 to 3.1 s."""

RISES_KEPT: Final = 8
LEAST_RISES: Final = 3
RISE_DB: Final = 3.0
LEAST_RISE_DB: Final = 1.5

QUIET: Final = 1e-9


class GainWatch:
    """Looks for two signs of automatic gain.

    Parameters
    ----------
    rate : int
        Samples per second.

    Notes
    -----
    While own sound is steady, its lines at the microphone must stay as strong as they are. Let `g` be their level and
    `x` that of everything at the microphone less `g`, which is what went into the gain: with a compressor of ratio R,
    g falls by (1 - 1/R) dB for every dB of x, and without one it stays. While the box is silent, the noise in a pause
    of the players must not rise when the room has rung out.
    """

    def __init__(self, rate: int = RATE) -> None:
        self._slow = (Decimator(FACTOR), Decimator(FACTOR))
        self._rate = rate / FACTOR
        self._waiting: NDArray[np.float64] = np.zeros((2, 0))
        self._before: tuple[Signal, NDArray[np.complex128], float] | None = None
        self._pairs: deque[tuple[float, float]] = deque(maxlen=PAIRS_KEPT)
        self._levels: deque[float] = deque(maxlen=PAUSE_WINDOWS + 1)
        self._rises: deque[float] = deque(maxlen=RISES_KEPT)

    @property
    def rides(self) -> bool:
        """Whether the gain seems to follow the level."""
        return self._lines_ride() or self._pauses_rise()

    def process(self, mic: Samples | Signal, own: Samples) -> None:
        """Take in a block of the microphone and what the box played, both shape (n,)."""
        slow = np.stack([one.process(numbers(b)) for one, b in zip(self._slow, (mic, own), strict=True)])
        self._waiting = np.concatenate([self._waiting, slow], axis=1)
        while self._waiting.shape[1] >= WINDOW:
            heard, played = self._waiting[:, :WINDOW]
            self._waiting = self._waiting[:, WINDOW:]
            self._window(heard, played)

    def _window(self, heard: Signal, played: Signal) -> None:
        level = 10.0 * math.log10(float(np.mean(heard**2)) + 1e-15)
        if float(np.mean(played**2)) <= QUIET:
            self._before = None
            self._pause(level)
            return
        self._levels.clear()
        window = np.hanning(WINDOW)
        power = np.abs(np.fft.rfft(played * window)) ** 2
        response = np.fft.rfft(heard * window) * np.conj(np.fft.rfft(played * window)) / np.maximum(power, QUIET)
        if self._before is not None:
            self._compare(power, response, level)
        self._before = (power, response, level)

    def _compare(self, power: Signal, response: NDArray[np.complex128], level: float) -> None:
        if self._before is None:
            return
        old_power, old_response, old_level = self._before
        strong = (
            (power > STRONG * power.max()) & (old_power > STRONG * old_power.max()) & (np.abs(old_response) > QUIET)
        )
        if int(strong.sum()) < LEAST_BINS:
            return
        changed = 10.0 * np.abs(np.log10(power[strong] / old_power[strong]))
        if float(np.median(changed)) > SAME_DB:
            return
        # The median is deaf to the players as long as they are on fewer than half of the bins.
        ratios = np.real(response[strong] / old_response[strong])
        ratio = float(np.median(ratios))
        if ratio <= 0.05 or float(np.median(np.abs(ratios / ratio - 1.0))) > ALIKE:
            return
        gain = 20.0 * math.log10(ratio)
        self._pairs.append((level - old_level - gain, gain))

    def _lines_ride(self) -> bool:
        told = [(x, g) for x, g in self._pairs if x >= LEAST_RISE_OF_LEVEL_DB]
        if len(told) < LEAST_PAIRS:
            return False
        slope = sum(x * g for x, g in told) / sum(x * x for x, _ in told)
        falls = sum(x * g < 0 for x, g in told)
        return slope < STEEPEST and falls > 0.75 * len(told)

    def _pause(self, level: float) -> None:
        levels = self._levels
        levels.append(level)
        if len(levels) <= PAUSE_WINDOWS:
            return
        loud, *after = levels
        if max(after[2:]) > loud - DROP_DB:
            return
        early, late = float(np.mean(after[EARLY])), float(np.mean(after[LATE]))
        if max(abs(b - a) for a, b in pairwise(after[2:])) < DROP_DB / 2:
            self._rises.append(late - early)
        levels.clear()

    def _pauses_rise(self) -> bool:
        rises = sorted(self._rises)
        if len(rises) < LEAST_RISES:
            return False
        return rises[len(rises) // 2] > RISE_DB and rises[len(rises) // 4] > LEAST_RISE_DB
