"""Several players on one note: the centre of their pitches, and how far they are spread about it."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from firmware.heard_events import Heard
from firmware.hearing.filters import Signal
from firmware.units import CENTS_PER_OCTAVE

LENGTH: Final = 14_400
"""Samples at 12 kHz in which a section is read: 1.2 s, so that lines 1 Hz apart are seen apart."""

PADDED: Final = 16_384
HOPS: Final = 30
"""Readings of the ear in that time."""

EVERY: Final = 5
"""It is read anew every so many hops: five times a second."""

MOST_LOST: Final = 10
WITHIN: Final = 60.0
"""The readings in that time are of one note when all but so many lie within so many cents of their median."""

PARTIALS: Final = 24
TOP_HZ: Final = 5_000.0
CLEAR: Final = 30.0
"""A partial counts when it rises so far over the noise between the partials (power)."""

DEEP: Final = 0.01
"""What is 20 dB under the strongest line of a partial is sidelobes of the window, not a player."""

EXPONENT: Final = 0.5
"""Lines count by their amplitude rather than their power, so that the loudest player is not all that is heard."""

EXCESS: Final = 0.008
EXCESS_OF_NOISE: Final = 0.3
"""Several players leave so much more of the sound unexplained by one tone than the noise between the partials does."""

AGREEING: Final = 2
"""Looks in a row that must say so."""

WIDER: Final = 1.4
WIDER_CENTS: Final = 0.3
"""And they are spread so much wider than the pitch that is read moves: a room too blurs a vibrato, but not more."""

LN2: Final = math.log(2)


@lru_cache(maxsize=1)
def _window() -> Signal:
    window: Signal = np.hanning(LENGTH + 1)[:-1].astype(np.float64)
    window.flags.writeable = False
    return window


@lru_cache(maxsize=2)
def _own_width(exponent: float) -> float:
    """Standard deviation in cycles per window of a single line, weighted as players are."""
    fine = 1 << 18
    power = np.abs(np.fft.fft(_window(), fine)) ** 2
    weight = np.where(power > DEEP * power.max(), power, 0.0) ** exponent
    cycles = np.fft.fftfreq(fine) * LENGTH
    return float(np.sqrt((weight * cycles**2).sum() / weight.sum()))


@dataclass(frozen=True, slots=True)
class Spread:
    """Cents of the centre from the pitch that was asked about, the spread by amplitude and by power, share of noise."""

    centre: float
    cents: float
    by_power: float
    noise: float


def read_section(sound: Signal, hz: float, rate: float) -> Spread | None:
    """Centre and spread of what sounds about a pitch.

    Parameters
    ----------
    sound : Signal
        Whitened sound, shape (n,), n at least `LENGTH`; the end is read.
    hz : float
        The pitch that the ear reads, within a third of a semitone of all players.
    rate : float
        Samples per second.

    Returns
    -------
    Spread or None
        None where no partial rises over the noise.

    Notes
    -----
    The lines near each partial are taken from a Hann spectrum of 1.2 s: their mean is the centre, their standard
    deviation, less that of a single line, the spread. It holds the players' vibrato as well as their differences. High
    partials show the spread best, since a cent is more Hz there.
    """
    power: Signal = np.abs(np.fft.rfft(sound[-LENGTH:] * _window(), PADDED)) ** 2
    bin_hz = rate / PADDED
    rows, noise, whole = [], 0.0, 0.0
    for number in range(1, min(PARTIALS, int(TOP_HZ / hz)) + 1):
        low, lower, upper, high = ((number + part) * hz / bin_hz for part in (-0.6, -0.4, 0.4, 0.6))
        between = np.concatenate([power[int(low) : int(lower) + 1], power[int(upper) : int(high) + 1]])
        floor = float(np.median(between)) / LN2  # the median of a chi-square with two degrees of freedom
        noise += floor * hz / bin_hz
        whole += float(power[int((number - 0.5) * hz / bin_hz) : int((number + 0.5) * hz / bin_hz)].sum())
        row = _partial(power, number * hz, hz, floor, rate)
        if row is not None:
            rows.append(row)
    if not rows:
        return None
    cents, squares, powers, widths = (np.array(column) for column in zip(*rows, strict=True))
    square, by_power = (float(np.average(one, weights=1 / (widths**4 + 4.0))) for one in (squares, powers))
    centre = float(np.average(cents, weights=1 / (widths**2 + square + 0.05)))
    return Spread(centre, math.sqrt(square), math.sqrt(by_power), min(1.0, noise / max(whole, 1e-300)))


def _partial(power: Signal, hz: float, spacing: float, floor: float, rate: float) -> tuple[float, ...] | None:
    """Cents of a partial's centre, its spread squared by amplitude and by power, and how wide one line is."""
    bin_hz, width = rate / PADDED, _own_width(EXPONENT) * rate / LENGTH
    half = min(WITHIN * LN2 / CENTS_PER_OCTAVE * hz + 3 * width, 0.4 * spacing)
    low, high = max(1, int((hz - half) / bin_hz)), int((hz + half) / bin_hz) + 2
    near = power[low:high]
    if near.max(initial=0.0) <= CLEAR * floor:
        return None
    strong: Signal = np.where(near > max(10 * floor, DEEP * near.max()), near, 0.0)
    lines: Signal = np.arange(low, high, dtype=np.float64) * bin_hz
    to_cents = CENTS_PER_OCTAVE / LN2 / hz
    centre, square = _moments(np.asarray(strong**EXPONENT, np.float64), lines)
    _, by_power = _moments(strong, lines)
    alone = (_own_width(1.0) * rate / LENGTH) ** 2
    squares = (max(square - width**2, 0.0) * to_cents**2, max(by_power - alone, 0.0) * to_cents**2)
    return (centre - hz) * to_cents, *squares, width * to_cents


def _moments(weight: Signal, lines: Signal) -> tuple[float, float]:
    """Mean and variance of lines."""
    centre = float((weight * lines).sum() / weight.sum())
    return centre, float((weight * (lines - centre) ** 2).sum() / weight.sum())


class SectionWatch:
    """Tells a section from one player, reading by reading.

    Parameters
    ----------
    rate : float
        Samples per second of the ear's slow stream.

    Notes
    -----
    One player, with whatever vibrato, is one tone at each moment, and the ear's tone that may move explains the sound
    but for the noise. Several players beat against each other differently in each partial, and no one tone explains
    that.
    """

    def __init__(self, rate: float) -> None:
        self._rate = rate
        self._sound: Signal = np.zeros(LENGTH)
        self._readings: deque[Heard] = deque(maxlen=HOPS)
        self._hops = 0
        self._agreeing = 0
        self._found: tuple[float, float] | None = None

    def hear(self, bright: Signal, heard: Heard, *, alone: bool) -> Heard:
        """Take in a hop of whitened sound and its reading; a section's reading is its centre, with its spread.

        `alone` says that the box itself is silent: what is left of its own sound would look like more players.
        """
        self._sound = np.concatenate([self._sound, bright])[-LENGTH:]
        self._readings.append(heard)
        self._hops += 1
        if not alone:
            self._readings.clear()
            self._agreeing, self._found = 0, None
        elif self._hops % EVERY == 0:
            self._look()
        if self._found is None or heard.hz is None:
            return heard
        centre, spread = self._found
        if abs(CENTS_PER_OCTAVE * math.log2(heard.hz / centre)) > WITHIN:
            self._agreeing, self._found = 0, None
            self._readings.clear()
            return heard
        return replace(heard, hz=centre, spread=spread)

    def _look(self) -> None:
        read = self._one_note()
        section = read_section(self._sound, read[0], self._rate) if read is not None else None
        if read is None or section is None:
            self._agreeing, self._found = 0, None
            return
        hz, left, moves = read
        several = left - section.noise > EXCESS + EXCESS_OF_NOISE * section.noise
        several = several and section.by_power > WIDER * moves + WIDER_CENTS
        self._agreeing = self._agreeing + 1 if several else 0
        if self._agreeing >= AGREEING:
            self._found = hz * 2 ** (section.centre / CENTS_PER_OCTAVE), section.cents
        elif not several:
            self._found = None

    def _one_note(self) -> tuple[float, float, float] | None:
        """Median pitch of the readings, what they leave unexplained, and how many cents they move, if of one note."""
        read = [(one.hz, one.confidence) for one in self._readings if one.hz is not None]
        if len(self._readings) < HOPS or len(read) < HOPS - MOST_LOST:
            return None
        hz, confidence = np.array(read).T
        middle = float(np.median(hz))
        cents = CENTS_PER_OCTAVE * np.log2(hz / middle)
        near = np.abs(cents) < WITHIN
        if near.sum() < HOPS - MOST_LOST:
            return None
        return middle, 1 - float(np.median(confidence[near])), float(np.std(cents[near]))
