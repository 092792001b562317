"""The pulse as sound: every stroke of a program on its exact sample."""

from __future__ import annotations

import math
from collections import deque
from fractions import Fraction
from typing import Final

import numpy as np

from firmware.music.program import Hit
from firmware.sound.percussion import all_sounds
from firmware.sound.snapshot import PulseSound
from firmware.units import Samples

LATEST_SECONDS: Final = 0.05
"""How late a stroke may be struck when a key or a turn of the knob brought it forward."""

MOST_RINGING: Final = 64
"""Strokes that sound at a time; the oldest makes room."""

MOST_BARS: Final = 16
"""Bars that are worked out in one block at most; no music has more."""

FARTHEST: Final = 2.0**50
"""Samples; a start beyond it is none."""


def sample_of(pulse: PulseSound, seconds: float, rate: int) -> int:
    """Sample nearest to a time of the program: rounded once, from the exact time, so that hours add no error."""
    return math.floor(pulse.start + seconds * rate + 0.5)


class Clicker:
    """Plays the strokes of a program.

    A stroke whose sample has passed is left out, with two exceptions of up to 50 ms: the very first, since a key is
    pressed a little before the engine hears of it, and one that a change of tempo has brought forward. No stroke is
    struck twice when a running pulse changes: those up to the place that was reached are done.

    Parameters
    ----------
    rate : int
        Samples per second.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._sounds = all_sounds(rate)
        self._ringing: deque[tuple[int, Samples, np.float32]] = deque(maxlen=MOST_RINGING)
        self._pulse: PulseSound | None = None
        self._bar = 0
        self._queue: deque[tuple[int, Hit]] = deque()
        self._done: Fraction | None = None

    def sound(self, pulse: PulseSound, gain: float, position: int, count: int) -> Samples | None:
        """Strokes over `count` samples from `position` on; None when there are none. Strokes that began ring out."""
        self._strike(pulse, gain, position, position + count)
        if not self._ringing:
            return None
        result = np.zeros(count, dtype=np.float32)
        for start, sound, level in self._ringing:
            begin = max(0, start - position)
            part = sound[position + begin - start :][: count - begin]
            result[begin : begin + len(part)] += part * level
        while self._ringing and self._over(self._ringing[0], position + count):
            self._ringing.popleft()
        return result

    @staticmethod
    def _over(ringing: tuple[int, Samples, np.float32], position: int) -> bool:
        return ringing[0] + len(ringing[1]) <= position

    def _strike(self, pulse: PulseSound, gain: float, position: int, end: int) -> None:
        """Begin the strokes from `position` to before `end`."""
        if not pulse.on or not abs(pulse.start) < FARTHEST:
            self._pulse = None
            self._queue.clear()
            return
        if pulse is not self._pulse:
            self._follow(pulse, position)
        self._fill(pulse, end)
        while self._queue and self._queue[0][0] < end:
            at, hit = self._queue.popleft()
            sound = self._sounds.get(hit.sound, self._sounds["tick"])
            self._ringing.append((max(at, position), sound, np.float32(gain * hit.gain)))
            self._done = hit.position
            self._fill(pulse, end)

    def _follow(self, pulse: PulseSound, position: int) -> None:
        """Find the first stroke that is still to come."""
        before, self._pulse = self._pulse, pulse
        same = before is not None and (before.program is pulse.program and before.start == pulse.start)
        if same and before is not None and before.run == pulse.run:
            return
        fresh = before is None or before.run != pulse.run
        self._done = None if fresh else self._done
        earliest = position - round(LATEST_SECONDS * self._rate)
        self._queue.clear()
        self._bar = pulse.program.bar_at(max(0.0, (earliest - pulse.start) / self._rate))
        # The bar that is under way, and the next: the first stroke may be that of the next bar line.
        first = [*self._of_bar(pulse, self._bar), *self._of_bar(pulse, self._bar + 1)]
        self._bar += 2
        begun = sample_of(pulse, 0.0, self._rate)
        for at, hit in first:
            late = at < position and (at < earliest or (fresh and at != begun))
            if not late and (self._done is None or hit.position > self._done):
                self._queue.append((at, hit))

    def _of_bar(self, pulse: PulseSound, number: int) -> list[tuple[int, Hit]]:
        return [(sample_of(pulse, hit.time, self._rate), hit) for hit in pulse.program.hits(number)]

    def _fill(self, pulse: PulseSound, end: int) -> None:
        """Work out bars until one has strokes, or begins after `end`."""
        for _ in range(MOST_BARS):
            if self._queue or pulse.program.over(self._bar):
                return
            begin = pulse.program.time(pulse.program.bars.bar(self._bar)[0])
            if sample_of(pulse, begin, self._rate) >= end:
                return
            self._queue.extend(self._of_bar(pulse, self._bar))
            self._bar += 1
