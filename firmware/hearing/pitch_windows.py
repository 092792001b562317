"""Reads a pitch that is about known exactly: in which window, with which partials, steady or moving."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal
from firmware.hearing.harmonic import Window
from firmware.hearing.moving import may_move, moving
from firmware.hearing.pitch_spectrum import SPECTRUM, TOP_HZ, Spectrum, partials_of

LENGTHS: Final = (464, 928, 1856)
"""Window lengths in samples at 12 kHz: 39, 77 and 155 ms. Steps between centres stay under the hop of 40 ms."""

PERIODS: Final = 2.8
"""A window must hold this many periods of what is read in it."""

SMEARED_TOPS_HZ: Final = (1_900.0, 950.0)
"""Bands that are tried in turn where a vibrato smears what is above them."""

WHOLE_SHARE: Final = 0.7
CLEARER: Final = 0.15
"""A smaller band is better where it is explained so much better; a larger one is more exact in noise."""

SMEARED_SHARE: Final = 0.05
"""With less than this explained there is no tone to be found in a smaller band."""

LONGER_WORSE: Final = 1.15
"""A longer window may leave this much more unexplained than the next shorter one, chance apart."""

AGREE_FLOOR: Final = 0.00015
AGREE_SPREADS: Final = 3.5
"""Two readings agree within a quarter of a cent and so many standard deviations of their noise."""

SURELY_MOVES: Final = 30.0
"""What slope and bend explain more, in units of the noise; chance brings 2, and this once in a million times."""

MOVES: Final = 0.7
"""A moving pitch must leave this much less unexplained than the steady one does in that window."""

LONGER_MOVES: Final = 1.5
"""And not much more than the steady one in the window that suits it."""

MOVES_HIGH_HZ: Final = 900.0
"""Above this a vibrato smears all partials over a long window, and is itself read in the shortest."""

SCREENED_SHARE: Final = 0.9
"""With more than this explained by a steady pitch, one correction tells whether it may move."""

MOVING_PARTIALS: Final = 16
SWING: Final = 0.03
"""A vibrato moves a pitch by no more than this share of it: half a semitone."""

EVEN: Final = 0.9
"""With halves as equal as this, both hold the same."""

SUMMITS: Final = 3
SUMMIT_TURNS: Final = 0.12
"""How many places to each side of a pitch are tried in noise, and how far apart: so much of a turn over the window."""


@dataclass(frozen=True, slots=True)
class Pitch:
    """What was read: Hz, the share of the energy in its band that one harmonic tone explains, and the window used."""

    hz: float
    share: float
    length: int
    power: NDArray[np.float64]
    error: float = 0.0
    """Standard deviation to expect of `hz` in the noise that was left, as a share of it."""
    moves: bool = False
    """Whether the pitch moves inside the window; `hz` is that of its centre."""


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """Whitened sound to read at the end of, its spectrum and rate, and the window lengths that may be used.

    `evenness` is the energy of the fainter half as a share of that of the other: little where a tone has just begun.
    """

    sound: Signal
    spectrum: Spectrum
    rate: float
    lengths: tuple[int, ...]
    evenness: float = 1.0

    def omega(self, hz: float) -> float:
        """Radians per sample."""
        return 2 * math.pi * hz / self.rate

    def hz(self, omega: float) -> float:
        """Hz of radians per sample."""
        return omega * self.rate / (2 * math.pi)

    def band_share(self, length: int, top_hz: float) -> float:
        """Share of the energy under a frequency in a window of this length.

        The noise before a tone has another share than the tone: where there is much of it, the window is asked itself.
        """
        if self.evenness >= EVEN or length == len(self.sound):
            return self.spectrum.band_share(top_hz)
        return Spectrum(self.sound[-length:], self.rate).band_share(top_hz)


def read_near(stretch: Stretch, omega: float) -> Pitch | None:
    """Read a steady pitch, or one that moves where that explains clearly more."""
    best = _choose_band(stretch, omega)
    if best is None or (best.length == len(stretch.sound) and (best.share >= WHOLE_SHARE or best.hz < MOVES_HIGH_HZ)):
        return best
    if best.share > SCREENED_SHARE and not _may_move(stretch, best):
        return best
    glide = read_moving(stretch, best.hz)
    if glide is None or not glide.moves:
        return best
    return glide if 1 - glide.share < LONGER_MOVES * (1 - best.share) + 0.01 else best


def _may_move(stretch: Stretch, pitch: Pitch) -> bool:
    """Whether one correction of a well explained steady pitch promises half of what it takes for one that moves."""
    length = _moving_length(stretch, pitch.hz)
    partials = min(MOVING_PARTIALS, partials_of(pitch.hz))
    gain = may_move(stretch.sound[-length:], stretch.omega(pitch.hz), partials)
    return gain > 0.5 * max(SURELY_MOVES / (length - 2 * partials), 1 / MOVES - 1)


def _moving_length(stretch: Stretch, hz: float) -> int:
    """Window for a pitch that moves."""
    short, *longer = stretch.lengths
    return short if hz > MOVES_HIGH_HZ or not longer else longer[0]


def read_moving(stretch: Stretch, hz: float) -> Pitch | None:
    """Read a pitch that moves; high ones in the shortest window, which they have left by less than a turn."""
    length = _moving_length(stretch, hz)
    sound = stretch.sound[-length:]
    energy = float(sound @ sound)
    if length * hz / stretch.rate < PERIODS or energy <= 0:
        return None
    partials = min(MOVING_PARTIALS, partials_of(hz))
    stages = tuple(sorted({max(1, partials // 4), max(1, partials // 2), partials}))
    near = _near_short(sound, hz, stretch.rate) if hz > MOVES_HIGH_HZ else hz
    found = moving(sound, stretch.omega(near), stages)
    band = stretch.band_share(length, (partials + 0.6) * hz)
    rest = max(0.0, 1 - found.explained / (energy * max(band, 1e-6))) / (1 - 2 * partials / length)
    still = Window(sound).fit(stretch.omega(hz), partials, improve=False).explained
    left = max(energy - found.explained, 1e-300)
    gain = (found.explained - still) / left * (length - 2 * partials)
    moves = gain > SURELY_MOVES and left < MOVES * (energy - still)
    return Pitch(stretch.hz(found.omega), max(0.0, 1 - rest), length, found.power, found.error, moves=moves)


def _near_short(sound: Signal, hz: float, rate: float) -> float:
    """Hz of the strongest peak of a short window about a frequency, which a wide vibrato may have moved by a turn."""
    power = Spectrum(sound, rate).power
    bin_hz = rate / SPECTRUM
    low, high = math.ceil(hz * (1 - SWING) / bin_hz), int(hz * (1 + SWING) / bin_hz) + 1
    return float(low + np.argmax(power[low:high])) * bin_hz


def _choose_band(stretch: Stretch, omega: float) -> Pitch | None:
    """Read with all partials, or with the low ones where a vibrato smears the others.

    Noise too leaves much unexplained, but then both bands read about the same, and all partials are the more exact.
    """
    best = _choose_length(stretch, omega, TOP_HZ)
    for top_hz in SMEARED_TOPS_HZ:
        if best is None or best.share >= WHOLE_SHARE or best.share < SMEARED_SHARE:
            break
        pitch = _choose_length(stretch, omega, top_hz)
        if pitch is not None and pitch.share > best.share + CLEARER:
            if not agree(best, pitch):
                again = _choose_length(stretch, stretch.omega(pitch.hz), TOP_HZ)
                best = pitch if again is None else again
            best = replace(best, share=pitch.share) if agree(best, pitch) else pitch
    return best


def agree(one: Pitch, other: Pitch) -> bool:
    """Whether two readings differ by no more than noise makes them differ."""
    apart = abs(one.hz / other.hz - 1)
    return apart <= AGREE_FLOOR + AGREE_SPREADS * math.hypot(one.error, other.error)


def _choose_length(stretch: Stretch, omega: float, top_hz: float) -> Pitch | None:
    """Read in the longest window that is as well explained as the next shorter one, the long ones tried first.

    And that reads the same within its noise: the rule of intersecting confidence intervals (Goldenshluger & Nemirovski
    1997), from which a moving pitch gets short windows and a noisy one long ones.
    """
    hz = stretch.hz(omega)
    partials = partials_of(hz, top_hz)
    fitting = [length for length in stretch.lengths if length * hz / stretch.rate >= PERIODS]
    readings: list[Pitch] = []
    for length in fitting[::-1]:
        pitch = _read_window(stretch, length, omega, top_hz)
        if pitch is None:
            break
        readings.append(pitch)
        if len(readings) > 1:
            long, short = readings[-2:]
            free = 2 * partials * (short.length * hz / stretch.rate - 1)
            most = LONGER_WORSE * (1 + 2 * math.sqrt(2 / free)) * _left(short, stretch.rate) + 0.002
            if _left(long, stretch.rate) <= most and agree(long, short):
                return long
    return readings[-1] if readings else None


def _left(pitch: Pitch, rate: float) -> float:
    """Share of the energy that noise has in the band of the partials, by what they leave of it.

    Noise has as many degrees of freedom there as the window holds periods, for each partial, and its fit takes one.
    """
    partials = len(pitch.power)
    counted = max(1 - 2 * partials / pitch.length, 0.1)
    periods = pitch.length * pitch.hz / rate
    return (1 - pitch.share) * counted / (1 - 1 / periods)


def _read_window(stretch: Stretch, length: int, omega: float, top_hz: float) -> Pitch | None:
    """Refine the pitch in one window; None if it is silent."""
    window = Window(stretch.sound[-length:])
    if window.energy <= 0:
        return None
    partials = partials_of(stretch.hz(omega), top_hz)
    band = stretch.band_share(length, (partials + 0.6) * stretch.hz(omega))
    smeared = top_hz < TOP_HZ or window.length == stretch.lengths[0]
    for few in few_first(partials) if smeared else ():
        omega = window.nearer(omega, few)
    fit = window.refine(omega, partials, 1)
    share = min(1.0, fit.explained / (window.energy * max(band, 1e-6)))
    rest = (1 - share) / max(1 - 2 * partials / window.length, 0.1)
    return Pitch(stretch.hz(fit.omega), max(0.0, 1 - rest), window.length, fit.power, window.error(fit))


def few_first(partials: int) -> tuple[int, ...]:
    """Smaller numbers of partials to begin with where the pitch may be far from the candidate."""
    return tuple(sorted({max(1, partials // 4), max(1, partials // 2)} - {partials}))


def summit(stretch: Stretch, pitch: Pitch) -> float | None:
    """The highest of the summits near a pitch that noise brings about, in radians per sample; None for its own.

    They lie the closer the longer the window is, and the more partials there are.
    """
    window, omega = Window(stretch.sound[-pitch.length :]), stretch.omega(pitch.hz)
    partials = partials_of(pitch.hz)
    steps = np.arange(-SUMMITS, SUMMITS + 1) * (SUMMIT_TURNS * 2 * math.pi / window.length / math.sqrt(partials))
    fits = [window.fit(omega + float(step), partials, improve=False) for step in steps]
    best = max(fits, key=lambda fit: fit.explained)
    return best.omega if best is not fits[SUMMITS] else None
