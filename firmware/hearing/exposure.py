"""Sound level with the time weightings of IEC 61672-1, and noise dose after NIOSH 98-126."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal, numbers
from firmware.hearing.weighting import a_weighting
from firmware.units import RATE, Samples

FAST_SECONDS: Final = 0.125
SLOW_SECONDS: Final = 1.0
"""Time constants of the weightings F and S (IEC 61672-1)."""

HOP_SECONDS: Final = 0.01
"""The running levels are taken this often."""

REPORT_HOPS: Final = 50
"""Hops from one report to the next: half a second."""

FLOOR_DB: Final = -120.0

LIMIT_DB: Final = 85.0
LIMIT_HOURS: Final = 8.0
EXCHANGE_DB: Final = 3.0
"""Recommended limit: 85 dB(A) for 8 h, half the time for every 3 dB more (NIOSH 98-126, 1.1.1 to 1.1.3)."""

COUNTS_FROM_DB: Final = 80.0
"""Levels from here on count towards the dose (NIOSH 98-126, 1.1.4; from memory)."""


@dataclass(frozen=True, slots=True)
class SoundSpan:
    """A-weighted level of half a second, in dB re full scale as the RMS of samples has it.

    `at` is the sample count of its end, `mean_db` its energy average, `fast_db` the greatest level with time weighting
    F in it, `slow_db` the level with time weighting S at its end.
    """

    at: int
    seconds: float
    mean_db: float
    fast_db: float
    slow_db: float


class SoundMeter:
    """A-weighted running levels of a stream of blocks of any length.

    Parameters
    ----------
    rate : int
        Samples per second.

    Notes
    -----
    The time weightings are exponential averages of the squared signal, `E[n] = a E[n-1] + (1 - a) x[n]^2` with
    `a = exp(-1 / (tau rate))`. They are taken at the end of every hop, where they are exact: a hop adds its squares
    times powers of `a`.
    """

    def __init__(self, rate: int = RATE) -> None:
        self._hop = round(HOP_SECONDS * rate)
        self._rate = rate
        self._filter = a_weighting(rate)
        decay = np.exp(-1.0 / (np.array([FAST_SECONDS, SLOW_SECONDS]) * rate))
        back = np.arange(self._hop - 1, -1, -1)
        self._weights = np.column_stack([(1 - decay) * decay ** back[:, None], np.full(self._hop, 1.0 / self._hop)])
        self._fall = decay**self._hop
        self._running = np.zeros(2)
        self._rest: Signal = np.zeros(0)
        self._done = 0
        self._hops = 0
        self._energy = 0.0
        self._loudest = 0.0

    def process(self, mic: Samples) -> tuple[SoundSpan, ...]:
        """Measure a block, shape (n,); one span for every half second that it completes. What is no number is 0."""
        clean = numbers(mic)
        squares = np.concatenate([self._rest, self._filter.process(clean) ** 2])
        whole = len(squares) // self._hop * self._hop
        self._rest = squares[whole:]
        spans = (self._add(row) for row in squares[:whole].reshape(-1, self._hop) @ self._weights)
        return tuple(span for span in spans if span is not None)

    def _add(self, hop: Signal) -> SoundSpan | None:
        self._running = self._running * self._fall + hop[:2]
        self._done += self._hop
        self._hops += 1
        self._energy += float(hop[2])
        self._loudest = max(self._loudest, float(self._running[0]))
        if self._hops < REPORT_HOPS:
            return None
        span = SoundSpan(
            self._done,
            REPORT_HOPS * self._hop / self._rate,
            level_of(self._energy / self._hops),
            level_of(self._loudest),
            level_of(float(self._running[1])),
        )
        self._hops, self._energy, self._loudest = 0, 0.0, 0.0
        return span


def level_of(energy: float) -> float:
    """Level of a mean square in dB, never under -120."""
    return max(FLOOR_DB, 10.0 * math.log10(energy)) if energy > 0 else FLOOR_DB


def allowed_hours(level_db: float) -> float:
    """Hours for which a level in dB(A) may be borne: T = 8 / 2^((L - 85) / 3) (NIOSH 98-126, 1.1.2)."""
    return LIMIT_HOURS * math.pow(2.0, (LIMIT_DB - level_db) / EXCHANGE_DB)


def dose_of(level_db: float, seconds: float) -> float:
    """What some seconds at a level in dB(A) add to the day's dose, in per cent (NIOSH 98-126, 1.1.3)."""
    if level_db < COUNTS_FROM_DB:
        return 0.0
    return 100.0 * seconds / (3600.0 * allowed_hours(level_db))


def average_of(dose: float) -> float:
    """Level in dB(A) that would give the same dose over 8 h: 10 log10(D / 100) + 85 (NIOSH 98-126, 1.1.3)."""
    return 10.0 * math.log10(dose / 100.0) + LIMIT_DB if dose > 0 else -math.inf


@dataclass(frozen=True, slots=True)
class Exposure:
    """Sum of the levels so far: seconds, mean square, greatest fast level, dose in per cent.

    Levels stay as the spans have them, without offset; the dose is that of levels with it.
    """

    seconds: float = 0.0
    energy: float = 0.0
    loudest_db: float = FLOOR_DB
    dose: float = 0.0
    counted_seconds: float = 0.0
    """Seconds whose dose could be counted, because the level was calibrated then."""

    @property
    def mean_db(self) -> float:
        """Energy average of all spans, L_Aeq."""
        return level_of(self.energy / self.seconds) if self.seconds else FLOOR_DB

    def add(self, span: SoundSpan, offset_db: float | None = None) -> Exposure:
        """The sum with one span more; `offset_db` turns its level into dB(A), None when nobody knows how."""
        dose = 0.0 if offset_db is None else dose_of(span.mean_db + offset_db, span.seconds)
        return Exposure(
            seconds=self.seconds + span.seconds,
            energy=self.energy + span.seconds * 10.0 ** (span.mean_db / 10.0),
            loudest_db=max(self.loudest_db, span.fast_db),
            dose=self.dose + dose,
            counted_seconds=self.counted_seconds + (0.0 if offset_db is None else span.seconds),
        )
