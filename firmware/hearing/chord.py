"""Pitch and level of each degree of a held chord, from the partials that no other degree lies on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.hearing.chord_spectrum import ChordSpectrum, Line, partials_apart, same_place
from firmware.hearing.filters import Signal
from firmware.units import cents_of, db_of

LOWEST_HZ: Final = 54.0
HIGHEST_HZ: Final = 1500.0
"""Range of the lowest tone of a degree."""

TOP_HZ: Final = 4600.0
"""No partial above this is used: the decimator begins to fall there."""

MOST_PARTIALS: Final = 24
CLEAR: Final = 100.0
"""A partial must rise 20 dB over the floor around it to be used."""

FAINTEST: Final = 10 ** (-38 / 10)
"""A fundamental this far under the strongest partial of the chord is not one: side lobes and what drifts."""

LEAST_PARTIALS: Final = 2
LARGEST_SPREAD: Final = 6.0
"""Cents that the partials of one degree may disagree by."""

AGREEING: Final = 10.0
"""Partials further than this from the middle are another's, and are left out."""

APART: Final = 16.0
"""Cents over which the players of a degree are spread; partials high enough to separate them count in full."""

SOFTER_DB: Final = -5.0
LOUDER_DB: Final = 5.0
"""The levels are told in three steps, because an estimate from some of the partials is no better than 5 to 10 dB."""

HEARD: Final = ""
TOGETHER: Final = "can't be heard apart"
ABSENT: Final = "not heard"
DISAGREE: Final = "partials disagree"


@dataclass(frozen=True, slots=True)
class Target:
    """A degree that the chord should have: its name, its note name, and any octave of its pitch, in Hz."""

    degree: str
    note: str
    hz: float


@dataclass(frozen=True, slots=True)
class DegreeReading:
    """What was heard of one degree.

    `cents` from its target and `level_db` against the middle of the chord are None when nothing could be read, and
    `why` then says why; `lowest_hz` is the lowest octave in which it was heard for itself.
    """

    degree: str
    cents: float | None
    level_db: float | None
    why: str
    lowest_hz: float | None = None

    @property
    def accepted(self) -> bool:
        """Whether its pitch could be read."""
        return self.cents is not None


def level_step(level_db: float) -> str:
    """A level against the middle of the chord, in three steps: soft, even, loud."""
    return "soft" if level_db < SOFTER_DB else "loud" if level_db > LOUDER_DB else "even"


def read_chord(spectrum: ChordSpectrum, targets: Sequence[Target]) -> tuple[DegreeReading, ...]:
    """Read each degree of a held chord.

    Parameters
    ----------
    spectrum : ChordSpectrum
        Of 1 s or more of the chord.
    targets : sequence of Target
        The degrees it is made of.

    Returns
    -------
    tuple of DegreeReading
        In the order of the targets.

    Notes
    -----
    The lowest octave of each degree is found first; the partials of all its octaves lie on that tone's. Partials
    within 60 cents or 4 / T of another degree's are left out, the rest are averaged about their weighted median.
    A fifth an octave and a fifth over the root, or a third two octaves and a third over it, lies on the root's
    partials entirely, and no measurement can take it out of there.
    """
    lows = lowest_tones(spectrum, targets)
    loudest = max((line.power for hz in lows if hz is not None and (line := spectrum.line(hz))), default=0.0)
    shadows = [_shadow(spectrum, target, low, loudest) for target, low in zip(targets, lows, strict=True)]
    readings: list[DegreeReading] = []
    for which, (target, low, shadow) in enumerate(zip(targets, lows, shadows, strict=True)):
        if low is not None:
            others = [hz for n, hz in enumerate(shadows) if n != which and hz is not None]
            readings.append(_read_degree(spectrum, target, low, np.array(others)))
        else:
            readings.append(DegreeReading(target.degree, None, None, ABSENT if shadow is None else TOGETHER))
    return _against_the_middle(readings)


def lowest_tones(spectrum: ChordSpectrum, targets: Sequence[Target]) -> tuple[float | None, ...]:
    """Lowest octave in which each degree has a fundamental of its own, in Hz; None where there is none."""
    strongest = float(spectrum.power.max(initial=0.0))
    lows: list[float | None] = [None] * len(targets)
    for hz, which in sorted((hz, which) for which, target in enumerate(targets) for hz in octaves_of(target.hz)):
        if lows[which] is not None:
            continue
        lower = [low for low in lows if low is not None]
        if any(same_place(hz, max(1, round(hz / low)) * low, spectrum.seconds) for low in lower):
            continue
        line = spectrum.line(hz)
        if line is not None and line.over_floor > CLEAR and _peak(spectrum, line) > FAINTEST * strongest:
            lows[which] = hz
    return tuple(lows)


def octaves_of(hz: float) -> tuple[float, ...]:
    """All octaves of a pitch that may be the lowest of a degree, from low to high."""
    low = hz * 2.0 ** math.ceil(math.log2(LOWEST_HZ / hz))
    return tuple(low * 2.0**n for n in range(8) if low * 2.0**n < HIGHEST_HZ)


def _peak(spectrum: ChordSpectrum, line: Line) -> float:
    return float(spectrum.power[round(line.hz / spectrum.bin_hz)])


def _shadow(spectrum: ChordSpectrum, target: Target, low: float | None, loudest: float) -> float | None:
    """The tone whose partials all other degrees must do without, in Hz; None if the degree is not there.

    It is the degree's own lowest tone, or the octave below where our own sound covers that. A degree without a tone of
    its own may still be hidden in any octave whose place is taken, by others or by our own sound.
    """
    if low is not None:
        return low / 2 if low / 2 > LOWEST_HZ and spectrum.covered(low / 2, loudest) else low
    for hz in octaves_of(target.hz):
        line = spectrum.line(hz)
        if spectrum.covered(hz, loudest) or (line is not None and line.over_floor > CLEAR):
            return hz
    return None


def _read_degree(spectrum: ChordSpectrum, target: Target, low: float, others: Signal) -> DegreeReading:
    free = partials_apart(low, others, spectrum.seconds, min(TOP_HZ, spectrum.top_hz), MOST_PARTIALS)
    lines = [(number, hz, spectrum.line(hz)) for number, hz in free]
    clear = [(number, hz, line) for number, hz, line in lines if line is not None and line.over_floor > CLEAR]
    if len(clear) < LEAST_PARTIALS:
        return DegreeReading(target.degree, None, None, TOGETHER, low)
    cents = np.array([cents_of(line.hz / hz) for _, hz, line in clear])
    middle, spread = _middle(cents, _weights(clear, spectrum.seconds))
    if spread > LARGEST_SPREAD:
        return DegreeReading(target.degree, None, None, DISAGREE, low)
    return DegreeReading(target.degree, middle, _level_db(clear), HEARD, low)


def _weights(lines: list[tuple[int, float, Line]], seconds: float) -> Signal:
    """Partials count by how well they separate the players, and by how clear they are."""
    apart = np.array([min(1.0, cents_width(hz) * seconds / 2) for _, hz, _ in lines])
    clear = np.array([min(1.0, math.log10(line.over_floor) / 4) for _, _, line in lines])
    weights: Signal = apart * clear
    return weights


def cents_width(hz: float) -> float:
    """Width in Hz of the spread of the players on a partial."""
    return hz * APART / 1731.0


def _middle(cents: Signal, weights: Signal) -> tuple[float, float]:
    """Mean of what lies about the weighted median, and its spread, in cents."""
    order = np.argsort(cents)
    sums = np.cumsum(weights[order])
    median = float(cents[order][np.searchsorted(sums, sums[-1] / 2)])
    near = np.abs(cents - median) < AGREEING
    share = weights[near] / weights[near].sum()
    mean = float(share @ cents[near])
    return mean, math.sqrt(float(share @ (cents[near] - mean) ** 2))


def _level_db(lines: list[tuple[int, float, Line]]) -> float:
    """Level of a whole tone, the partials that are missing drawn in between those that are there."""
    numbers = np.array([number for number, _, _ in lines], dtype=np.float64)
    levels = np.array([10 * math.log10(line.power + 1e-30) for _, _, line in lines])
    whole = np.arange(1.0, numbers[-1] + 1)
    drawn = np.interp(np.log2(whole), np.log2(numbers), levels)
    return db_of(math.sqrt(float(np.sum(10 ** (drawn / 10)))))


def _against_the_middle(readings: list[DegreeReading]) -> tuple[DegreeReading, ...]:
    """The same with levels against the median of the chord."""
    levels = [reading.level_db for reading in readings if reading.level_db is not None]
    middle = float(np.median(levels)) if levels else 0.0
    return tuple(
        DegreeReading(r.degree, r.cents, None if r.level_db is None else r.level_db - middle, r.why, r.lowest_hz)
        for r in readings
    )
