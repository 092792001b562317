"""The pulse as a plain click, high on beat 1 and low on the others, each on its exact sample."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Final

import numpy as np

from firmware.sound.snapshot import PulseSound
from firmware.units import Samples

CLICK_SECONDS: Final = 0.03
"""Length of one click."""

LATEST_SECONDS: Final = 0.05
"""How late the first beat may be struck when the pulse is switched on."""

HIGH_HZ: Final = 2100.0
LOW_HZ: Final = 1400.0

TEMPO_RANGE: Final = (1.0, 1000.0)
"""Tempos are held within these, in beats per minute; nobody beats time outside them."""


def click_of(hz: float, rate: int) -> Samples:
    """One click: a knock of `hz` and a softer partial 2.7 times as high, dying away within 30 ms; its peak is 1."""
    count = round(CLICK_SECONDS * rate)
    time = (np.arange(count) + 1.0) / rate
    knock = np.sin(2 * np.pi * hz * time) + 0.5 * np.sin(2 * np.pi * 2.7 * hz * time) * np.exp(-time / 0.002)
    knock *= np.exp(-time / 0.006) * 0.5 * (1.0 + np.cos(np.pi * np.arange(count) / count))
    return np.asarray(knock / np.abs(knock).max(), dtype=np.float32)


def beat_start(pulse: PulseSound, beat: int, rate: int) -> int:
    """Sample on which beat number `beat` (from 0) begins: nearest to the exact time, so that hours add no error."""
    period = _period(pulse, rate)
    return pulse.start + (2 * beat * period.numerator + period.denominator) // (2 * period.denominator)


def first_beat(pulse: PulseSound, position: int, rate: int) -> int:
    """Number of the first beat that begins at `position` or later, at least 0."""
    guess = max(0, math.floor((position - pulse.start) / _period(pulse, rate)) - 1)
    while beat_start(pulse, guess, rate) < position:
        guess += 1
    return guess


def _period(pulse: PulseSound, rate: int) -> Fraction:
    """Samples from beat to beat, exact."""
    tempo = pulse.tempo if math.isfinite(pulse.tempo) else TEMPO_RANGE[0]
    return Fraction(60 * rate) / Fraction(min(max(tempo, TEMPO_RANGE[0]), TEMPO_RANGE[1]))


class Clicker:
    """Plays the clicks of a pulse, each on its sample.

    Only the very first beat may come late, by up to 50 ms: a key is pressed a little before the engine hears of it.
    Any other beat whose sample has passed is left out.

    Parameters
    ----------
    rate : int
        Samples per second.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._high, self._low = click_of(HIGH_HZ, rate), click_of(LOW_HZ, rate)
        self._ringing: list[tuple[int, Samples]] = []
        self._pulse = PulseSound()
        self._beat = 0
        self._next: int | None = None

    def sound(self, pulse: PulseSound, gain: float, position: int, count: int) -> Samples | None:
        """Clicks over `count` samples from `position` on; None when there are none. Clicks that began ring out."""
        self._strike(pulse, gain, position, position + count)
        if not self._ringing:
            return None
        result = np.zeros(count, dtype=np.float32)
        for start, click in self._ringing:
            begin = max(0, start - position)
            part = click[position + begin - start :][: count - begin]
            result[begin : begin + len(part)] += part
        self._ringing = [(at, click) for at, click in self._ringing if at + len(click) > position + count]
        return result

    def _strike(self, pulse: PulseSound, gain: float, position: int, end: int) -> None:
        """Begin the clicks of the beats from `position` to before `end`."""
        if not pulse.on:
            self._next = None
            return
        if self._next is None and 0 < position - pulse.start <= round(LATEST_SECONDS * self._rate):
            self._ring(0, gain, position)
        if self._next is None or pulse != self._pulse:
            self._pulse, self._beat = pulse, first_beat(pulse, position, self._rate)
            self._next = beat_start(pulse, self._beat, self._rate)
        while self._next < end:
            self._ring(self._beat % max(1, pulse.beats), gain, self._next)
            self._beat += 1
            self._next = beat_start(pulse, self._beat, self._rate)

    def _ring(self, beat_of_bar: int, gain: float, at: int) -> None:
        click = self._low if beat_of_bar else self._high
        self._ringing.append((at, click * np.float32(gain)))
