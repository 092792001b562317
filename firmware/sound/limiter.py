"""The last stage: no sample leaves above -1 dB of full scale, whatever was asked for."""

from __future__ import annotations

from typing import Final

import numpy as np

from firmware.sound.ramp import Floats
from firmware.units import Samples, gain_of

CEILING_DB: Final = -1.0
"""Highest sample value that leaves, in dB of full scale."""

LOOK_AHEAD_SECONDS: Final = 0.002
"""Delay of the sound, in which the gain comes down smoothly before a peak."""

HOLD_SECONDS: Final = 0.06
"""The gain stays down this long after a peak: that of a steady chord hardly moves, hence hardly distorts."""

RELEASE_SECONDS: Final = 0.4
"""Time in which the gain would rise from 0 to 1."""


class Limiter:
    """Look-ahead limiter; without any effect but its delay while all samples stay below the ceiling.

    The gain that each sample needs, `min(1, ceiling / |x|)`, goes through a running minimum over look-ahead and hold, a
    straight release, and a Hann average over the look-ahead. All averaged values lie at or under what the sample that
    leaves needs, so their average does too: the ceiling is a property of the structure, not of the signal.

    Parameters
    ----------
    rate : int
        Samples per second.
    """

    def __init__(self, rate: int) -> None:
        self.delay = round(LOOK_AHEAD_SECONDS * rate)
        self.ceiling = gain_of(CEILING_DB) * (1.0 - 1e-6)  # the last product may round up by half a unit
        window = np.hanning(self.delay + 3)[1:-1]
        self._window = window / window.sum()
        self._span = self.delay + 1 + round(HOLD_SECONDS * rate)
        self._rise = 1.0 / (RELEASE_SECONDS * rate)
        self._late = np.zeros(self.delay, dtype=np.float32)
        self._needs: Floats | None = None
        self._gains = np.ones(self.delay)
        self._late_shares: tuple[Samples | None, ...] = ()
        self.shares: tuple[Samples | None, ...] = ()
        """What was given as shares of the last block, as they leave; None where there was nothing."""

    def process(self, samples: Samples, *shares: Samples | None) -> Samples:
        """Limit a block.

        Parameters
        ----------
        samples : array of shape (n,), float32
            Finite samples of any size.
        *shares : array of shape (n,), float32, or None
            Parts of the samples that shall be known as they leave, in `shares`; they are in `samples` already. The
            same number of them each time.

        Returns
        -------
        array of shape (n,), float32
            The sound `delay` samples earlier, within the ceiling.
        """
        count = len(samples)
        if not count:
            return samples
        line = np.concatenate([self._late, samples])
        self._late = line[count:]
        late = self._late_shares or (None,) * len(shares)
        delayed = [self._delayed(*pair, count) for pair in zip(late, shares, strict=True)]
        self.shares = tuple(part for part, _ in delayed)
        self._late_shares = tuple(rest for _, rest in delayed)
        if self._needs is None:
            if max(float(samples.max()), -float(samples.min())) <= self.ceiling:
                return line[:count]
            self._needs = np.ones(self._span - 1)
            self._gains = np.ones(self.delay)
        gain = self._gain(samples, self._needs)
        self.shares = tuple(None if part is None else (part * gain).astype(np.float32) for part in self.shares)
        return (line[:count] * gain).astype(np.float32)

    def _delayed(
        self, late: Samples | None, share: Samples | None, count: int
    ) -> tuple[Samples | None, Samples | None]:
        """The share `delay` samples earlier, and what of it is still to come."""
        if share is None and late is None:
            return None, None
        before = late if late is not None else np.zeros(self.delay, dtype=np.float32)
        line = np.concatenate([before, share if share is not None else np.zeros(count, dtype=np.float32)])
        return line[:count], line[count:] if line[count:].any() else None

    def _gain(self, samples: Samples, past: Floats) -> Floats:
        """Gain of each sample that leaves, shape (n,)."""
        count = len(samples)
        needs = np.concatenate([past, self.ceiling / np.maximum(np.abs(samples, dtype=np.float64), self.ceiling)])
        held = running_minimum(needs, self._span)
        slope = self._rise * np.arange(count + 1)
        released = np.minimum.accumulate(np.concatenate([self._gains[-1:], held]) - slope)[1:] + slope[1:]
        gains = np.concatenate([self._gains, released])
        self._needs, self._gains = needs[count:], gains[count:]
        if self._gains.min() > 1.0 - 1e-9 and self._needs.min() >= 1.0:
            self._needs = None  # all is back at 1: pass sound through untouched again
        return np.convolve(gains, self._window, mode="valid")


def running_minimum(values: Floats, span: int) -> Floats:
    """Minimum over every `span` neighbours, shape (len(values) - span + 1,), by doubling the span."""
    width = 1
    while 2 * width <= span:
        values = np.minimum(values[:-width], values[width:])
        width *= 2
    if width < span:
        values = np.minimum(values[: len(values) - (span - width)], values[span - width :])
    return values
