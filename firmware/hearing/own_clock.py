"""Own sound as the microphone's clock counts it: two devices have two clocks, some ten parts in a million apart."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from firmware.hearing.filters import Signal

TAPS: Final = 32
BETA: Final = 9.0
"""Length and Kaiser shape of the interpolator: errors stay 80 dB down up to 0.4 of the rate."""

FRACTIONS: Final = 256
"""Places in a sample for which taps are worked out; in between they are interpolated, 100 dB down."""

AHEAD: Final = TAPS // 2
"""The interpolator looks so many samples ahead, so what comes out is at least this much late."""

KEPT_SECONDS: Final = 6.0
"""How much of what was played can be read anew."""

STRETCH: Final = 120
"""Samples over which taps are interpolated; at 1000 ppm the place moves by an eighth of a sample in it."""

JUMP: Final = 240
"""Samples by which the reading falls back when a slow microphone's clock has caught up with what was played."""


@lru_cache(maxsize=1)
def _table() -> Signal:
    """Kaiser-windowed sincs that read a sound so many fractions of a sample after a place, shape (.., TAPS)."""
    off = np.arange(-AHEAD + 1, AHEAD + 1) - np.arange(FRACTIONS + 1)[:, None] / FRACTIONS
    window = np.i0(BETA * np.sqrt(np.maximum(0.0, 1.0 - (off / AHEAD) ** 2))) / np.i0(BETA)
    table: Signal = np.sinc(off) * window
    table.flags.writeable = False
    return table


def taps_at(fraction: float) -> Signal:
    """Taps that read a sound `fraction` of a sample, 0 to 1, after a place, shape (TAPS,)."""
    table = _table()
    low = min(int(fraction * FRACTIONS), FRACTIONS - 1)
    share = fraction * FRACTIONS - low
    taps: Signal = (1.0 - share) * table[low] + share * table[low + 1]
    return taps


class OwnClock:
    """Reads own sound at places that go with the microphone's clock.

    Parameters
    ----------
    rate : float
        Samples per second of the slow stream.

    Attributes
    ----------
    ppm : float
        By how many parts in a million the microphone's clock runs fast.
    late : int
        Samples by which own sound comes out later than it was played, apart from what the clocks have drifted.

    Notes
    -----
    Sound that was played at n arrives at n (1 + ppm / 1e6) and its travel, so the place that is read moves on by
    1 / (1 + ppm / 1e6) a sample. Whole places, as with one clock, are read as they are.
    """

    def __init__(self, rate: float) -> None:
        self._kept: Signal = np.zeros(round(KEPT_SECONDS * rate))
        self._end = 0
        self._place = float(-AHEAD)
        self.ppm = 0.0
        self.late = AHEAD

    @property
    def _pace(self) -> float:
        return 1.0 / (1.0 + self.ppm * 1e-6)

    def process(self, own: Signal) -> tuple[Signal, int]:
        """Take in one hop, shape (hop,).

        Returns
        -------
        Signal
            The hop that belongs beside the microphone's, shape (hop,).
        int
            By how many samples the reading fell back before it: 0, or `JUMP`.
        """
        self._kept = np.concatenate([self._kept, own])[len(own) :]
        self._end += len(own)
        after = self._place + len(own) * self._pace
        jumped = 0
        if after + AHEAD > self._end + 1:
            jumped = JUMP
            after -= JUMP
            self._place -= JUMP
        out = self._read(self._place, len(own))
        self._place = after
        return out, jumped

    def again(self, hops: int, hop: int) -> list[Signal]:
        """The last hops once more, as they are with today's offset, oldest first."""
        pace = hop * self._pace
        return [self._read(self._place - back * pace, hop) for back in range(hops, 0, -1)]

    def set(self, ppm: float, late: int, drift: float = 0.0) -> None:
        """Go by an offset of the clocks from now on, with own sound `late` and the clocks' drift until now.

        Parameters
        ----------
        ppm : float
            Offset of the clocks.
        late : int
            Samples by which own sound is to come out late.
        drift : float
            Samples by which the microphone's clock has come off since `late` held.
        """
        self.ppm, self.late = ppm, late
        self._place = self._end - late - drift

    def nudge(self, ppm: float, samples: float) -> None:
        """Correct the offset, and read so many samples later from now on."""
        self.ppm += ppm
        self._place += samples

    def _read(self, place: float, count: int) -> Signal:
        first = place - self._end + len(self._kept)
        if self.ppm == 0.0 and place == np.floor(place):
            start = int(first)
            # A copy: a view would keep all six seconds alive for as long as somebody remembers the hop.
            return self._whole(start, start + count).copy()
        out = np.empty(count)
        pace = self._pace
        for begin in range(0, count, STRETCH):
            size = min(STRETCH, count - begin)
            here = first + begin * pace
            # Whole places go on by one a sample; what the pace is more or less is the end's fraction.
            drift = size * (pace - 1.0)
            whole = int(np.floor(min(here, here + drift)))
            stretch = self._whole(whole - AHEAD + 1, whole + size + AHEAD)
            early = np.correlate(stretch, taps_at(here - whole))[:size]
            later = np.correlate(stretch, taps_at(here + drift - whole))[:size]
            out[begin : begin + size] = early + np.arange(size) / size * (later - early)
        return out

    def _whole(self, start: int, end: int) -> Signal:
        """Kept samples from `start` to before `end`; silence outside."""
        inside = self._kept[max(0, start) : max(0, min(end, len(self._kept)))]
        if start >= 0 and end <= len(self._kept):
            return inside
        before, after = max(0, -start), max(0, end - len(self._kept))
        return np.pad(inside, (before, after))[: end - start]
