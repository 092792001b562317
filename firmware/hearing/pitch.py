"""Pitch of one player in a stretch of whitened sound: candidates, octave test, exact frequency."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal
from firmware.hearing.harmonic import Fit, Window

LOWEST_HZ: Final = 37.0
HIGHEST_HZ: Final = 4300.0
TOP_HZ: Final = 5000.0
"""No partial above this is used: the decimator begins to fall there."""

SEARCH_TOP_HZ: Final = 2_000.0
"""Candidates are compared under this, all in the same band; a vibrato leaves the partials there whole."""

SMEARED_TOPS_HZ: Final = (1_900.0, 950.0)
"""Bands that are tried in turn where a vibrato smears what is above them."""

WHOLE_SHARE: Final = 0.7
CLEARER: Final = 0.15
"""A smaller band is better where it is explained so much better; a larger one is more exact in noise."""

SMEARED_SHARE: Final = 0.05
"""With less than this explained there is no tone to be found in a smaller band."""

MOST_PARTIALS: Final = 32
SPECTRUM: Final = 4096
PEAKS: Final = 7
DIVISORS: Final = np.arange(1, 9)
TRIED: Final = 3
LENGTHS: Final = (464, 928, 1856)
"""Window lengths in samples at 12 kHz: 39, 77 and 155 ms. Steps between centres stay under the hop of 40 ms."""

PERIODS: Final = 3.2
"""A window must hold this many periods of what is read in it."""

PARTIAL_COST: Final = 0.0008
"""Share of the energy that one more partial must bring to be believed (model-order penalty)."""

SAME_SHARE: Final = 0.6
"""Share from which a pitch that carries on needs no search."""

ODD_SHARE: Final = 0.006
"""Share of the energy that the partials between those of the octave above must carry to be believed."""


FALLEN_SHARE: Final = 0.1
"""The same share when the reading before was that octave or twelfth above."""


CHANGING: Final = 0.65
"""A tone begins or ends where one half of the window has less than this share of the energy of the other."""

PRESENT: Final = 0.001
"""A partial with this share of the energy (-30 dB) is there."""

NOISE_SPREADS: Final = 3.0
"""Standard deviations of noise that partials must rise over to be believed."""

LONGER_WORSE: Final = 1.25
"""A longer window may leave this much more unexplained than the next shorter one."""


@dataclass(frozen=True, slots=True)
class Pitch:
    """What was read: Hz, the share of the energy in its band that one harmonic tone explains, and the window used."""

    hz: float
    share: float
    length: int
    power: NDArray[np.float64]


@lru_cache(maxsize=4)
def _hann(length: int) -> Signal:
    window: Signal = np.hanning(length + 1)[:-1]
    window.flags.writeable = False
    return window


def partials_of(hz: float, top_hz: float = TOP_HZ) -> int:
    """How many partials of a tone are used."""
    return max(1, min(MOST_PARTIALS, int(top_hz / hz)))


class Spectrum:
    """Hann power spectrum of a window, padded to `SPECTRUM` bins."""

    def __init__(self, sound: Signal, rate: float) -> None:
        length = len(sound)
        bins = np.fft.rfft(sound * _hann(length), SPECTRUM)
        self.power: Signal = bins.real**2 + bins.imag**2
        self.bin_hz = rate / SPECTRUM
        self.lobe = 2 * SPECTRUM // length
        self.sums = np.concatenate([[0.0], np.cumsum(self.power)])

    def peaks(self) -> Signal:
        """Frequencies in Hz of the strongest local maxima, strongest first, by parabola through three log values."""
        power = self.power
        low, high = int(LOWEST_HZ / self.bin_hz), int(TOP_HZ / self.bin_hz)
        middle = power[low:high]
        rising = (middle >= power[low - 1 : high - 1]) & (middle > power[low + 1 : high + 1])
        places = np.flatnonzero(rising) + low
        places = places[np.argsort(power[places])[::-1][:PEAKS]]
        places = places[power[places] > 1e-4 * power[places].max(initial=0.0)]
        before, here, after = (np.log(power[places + shift] + 1e-300) for shift in (-1, 0, 1))
        bend = before - 2 * here + after
        shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, 1.0), 0.0)
        hz: Signal = np.asarray((places + shift) * self.bin_hz, dtype=np.float64)
        return hz

    def band_share(self, top_hz: float) -> float:
        """Share of the energy under `top_hz`."""
        end = min(len(self.power), int(top_hz / self.bin_hz) + 2)
        return float(self.sums[end] / max(self.sums[-1], 1e-300))

    def comb_scores(self, candidates: Signal) -> Signal:
        """Energy on each candidate's partials less the cost of each, as a share of all."""
        number = np.arange(1, MOST_PARTIALS + 1)
        hz = candidates[:, None] * number
        bins = np.minimum(np.rint(hz / self.bin_hz).astype(int), len(self.power) - 1)
        width = np.minimum(self.lobe, (candidates / self.bin_hz / 2).astype(int))[:, None]
        low = np.maximum(bins - width, 0)
        high = np.minimum(bins + width + 1, len(self.power))
        energy = (self.sums[high] - self.sums[low]) * (hz < TOP_HZ)
        noise = np.median(self.power) * 1.4 * (high - low)
        cost = noise + 4 * PARTIAL_COST * self.sums[-1]
        scores: Signal = ((energy - cost) * (hz < TOP_HZ)).sum(axis=1)
        return scores


def candidates_of(spectrum: Spectrum) -> Signal:
    """The few fundamentals worth a fit, best first."""
    peaks = spectrum.peaks()
    if not len(peaks):
        return peaks
    grid = (peaks[:, None] / DIVISORS).ravel()
    grid = grid[(grid > LOWEST_HZ) & (grid < HIGHEST_HZ)]
    chosen: list[float] = []
    for place in np.argsort(spectrum.comb_scores(grid))[::-1]:
        hz = float(grid[place])
        if all(abs(math.log2(hz / other)) > 0.02 for other in chosen):
            chosen.append(hz)
        if len(chosen) == TRIED:
            break
    return np.array(chosen)


def worth(fit: Fit, window: Window) -> float:
    """Explained energy less what its partials cost."""
    return fit.explained - 2 * len(fit.power) * (3 * window.noise(fit) + PARTIAL_COST / 2 * window.energy)


def read_pitch(
    sound: Signal,
    rate: float,
    hint: float | None = None,
    *,
    search: bool = True,
    longest: int = LENGTHS[-1],
) -> Pitch | None:
    """Read the pitch at the end of a stretch of sound.

    Parameters
    ----------
    sound : Signal
        Whitened sound, shape (n,), n at least the last of `LENGTHS`.
    rate : float
        Samples per second.
    hint : float or None
        Hz of the reading before.
    search : bool
        False to be content with the hint where it still explains the sound; that is three times as fast.
    longest : int
        The longest of `LENGTHS` that may be read in; candidates always come from the longest of all.

    Returns
    -------
    Pitch or None
        None when no harmonic tone with at least `PERIODS` periods is there.

    Notes
    -----
    Candidates are spectrum peaks divided by small numbers. The best by penalised least squares is tested against its
    octave and twelfth neighbours, refined by Gauss-Newton, and read in the longest window whose share of unexplained
    energy is not worse than 1.25 times that of the next shorter one, so a vibrato is read in short windows.
    """
    sound = sound[-LENGTHS[-1] :]
    whole = Window(sound)
    if whole.energy <= 0:
        return None
    spectrum = Spectrum(sound, rate)
    lengths = tuple(length for length in LENGTHS if length <= longest)
    if hint is not None and not search:
        same = _choose_band(sound, 2 * math.pi * hint / rate, spectrum, rate, lengths)
        if same is not None and _carries_on(same, hint):
            return same
    best = _acquire(whole, Window(sound[-LENGTHS[1] :]), spectrum, rate, hint)
    if best is None:
        return None
    omega = supported(sound, best.omega, rate, hint)
    return _choose_band(sound, omega, spectrum, rate, lengths)


def _carries_on(pitch: Pitch, hint: float) -> bool:
    """Whether a pitch is so well explained, near the one before and with real partials, that no search is needed."""
    if pitch.share < SAME_SHARE or abs(math.log2(pitch.hz / hint)) > 0.02:
        return False
    power = np.maximum(pitch.power, 0.0)
    total = float(power.sum())
    return all(len(power) < m or power[m - 1 :: m].sum() < (1 - ODD_SHARE) * total for m in (2, 3, 5))


def _acquire(long: Window, mid: Window, spectrum: Spectrum, rate: float, hint: float | None) -> Fit | None:
    """The fundamental that explains the window best for its number of partials."""
    turn = 2 * math.pi / rate
    tries = list(candidates_of(spectrum))
    steady = long.evenness() >= CHANGING
    if hint is not None and all(abs(math.log2(hint / hz)) > 0.02 for hz in tries):
        tries.append(hint)
    best: Fit | None = None
    best_score = -math.inf
    for hz in tries:
        window = long if hz < 55 or (steady and hz < 130) else mid
        fit = window.refine(hz * turn, partials_of(hz, SEARCH_TOP_HZ), 1)
        score = worth(fit, window) / max(window.energy, 1e-300)
        if score > best_score:
            best, best_score = fit, score
    return best


def supported(sound: Signal, omega: float, rate: float, hint: float | None) -> float:
    """Raise a fundamental whose own partials are not really there to the one whose are.

    Parameters
    ----------
    sound : Signal
        The longest window, shape (n,).
    omega : float
        The fundamental that explains it best, radians per sample.
    rate : float
        Samples per second.
    hint : float or None
        Hz of the reading before; a fall from it to its octave or twelfth needs more support while the level changes.

    Returns
    -------
    float
        Radians per sample: `omega`, or 2, 3, 4 ... times it.

    Notes
    -----
    Where a tone begins or ends inside the window its partials have sidebands that a subharmonic explains. They are in
    one half only, so the partials that are not multiples of 2, or of 3, must carry energy in both halves.
    """
    hz = omega * rate / (2 * math.pi)
    partials = partials_of(hz)
    halves = [Window(half) for half in np.split(sound, 2)]
    loudest = max(half.energy for half in halves)
    unsteady = min(half.energy for half in halves) < CHANGING * loudest
    halves = [half for half in halves if half.energy > 0.03 * loudest]
    parts = [half.fit(omega, partials, improve=False) for half in halves]
    noises = [half.noise(fit) for half, fit in zip(halves, parts, strict=True)]
    for multiple in (2, 3, 5):
        if partials < multiple or multiple * hz > HIGHEST_HZ:
            continue
        fell = unsteady and hint is not None and abs(math.log2(hint / (multiple * hz))) < 0.03
        least = FALLEN_SHARE if fell else ODD_SHARE
        if not all(_between(fit.power, noise, multiple, least) for fit, noise in zip(parts, noises, strict=True)):
            return supported(sound, multiple * omega, rate, hint)
    return omega


def single(pitch: Pitch) -> bool:
    """Whether the low partials are those of one tone rather than of a chord's common fundamental.

    A chord's common fundamental lacks the first partial and others; a player may lack the first, then has the second,
    third and fifth.
    """
    there = pitch.power > PRESENT * float(np.maximum(pitch.power, 0.0).sum())
    return bool(there[0]) or (len(there) >= 5 and bool(there[1] and there[2] and there[4]))


def _between(power: NDArray[np.float64], noise: float, multiple: int, least: float) -> bool:
    """Whether the partials that are no multiples are there: enough of them, and more than noise would bring.

    Where noise would bring the multiples as well there is nothing to raise the fundamental to, and the answer is yes.
    """
    at_multiples = power[multiple - 1 :: multiple]
    free = len(power) - len(at_multiples)
    energy = float(power.sum() - at_multiples.sum()) - 2 * noise * free
    if energy > least * float(power.sum()) and energy > NOISE_SPREADS * 2 * noise * math.sqrt(free):
        return True
    raised = float(at_multiples.sum()) - 2 * noise * len(at_multiples)
    return raised < NOISE_SPREADS * 2 * noise * math.sqrt(len(at_multiples))


def _choose_band(
    sound: Signal, omega: float, spectrum: Spectrum, rate: float, lengths: tuple[int, ...]
) -> Pitch | None:
    """Read with all partials, or with the low ones where a vibrato smears the others."""
    best = _choose_length(sound, omega, spectrum, TOP_HZ, rate, lengths)
    for top_hz in SMEARED_TOPS_HZ:
        if best is None or best.share >= WHOLE_SHARE or best.share < SMEARED_SHARE:
            break
        pitch = _choose_length(sound, omega, spectrum, top_hz, rate, lengths)
        if pitch is not None and pitch.share > best.share + CLEARER:
            best = pitch
    return best


def _choose_length(
    sound: Signal, omega: float, spectrum: Spectrum, top_hz: float, rate: float, lengths: tuple[int, ...]
) -> Pitch | None:
    """Read in the longest window that is as well explained as the next shorter one, the long ones tried first."""
    hz = omega * rate / (2 * math.pi)
    partials = partials_of(hz, top_hz)
    band = spectrum.band_share((partials + 0.6) * hz)
    fitting = [length for length in lengths if length * hz / rate >= PERIODS]
    readings: list[Pitch] = []
    for length in fitting[::-1]:
        pitch = _read_window(Window(sound[-length:]), omega, top_hz, band, rate)
        if pitch is None:
            break
        readings.append(pitch)
        if len(readings) > 1 and 1 - readings[-2].share <= LONGER_WORSE * (1 - readings[-1].share) + 0.002:
            return readings[-2]
    return readings[-1] if readings else None


def _read_window(window: Window, omega: float, top_hz: float, band: float, rate: float) -> Pitch | None:
    """Refine the pitch in one window; None if it is silent."""
    if window.energy <= 0:
        return None
    partials = partials_of(omega * rate / (2 * math.pi), top_hz)
    for few in _stages(partials, top_hz):
        omega = window.refine(omega, few, 1).omega
    fit = window.refine(omega, partials, 1)
    share = min(1.0, fit.explained / (window.energy * max(band, 1e-6)))
    rest = (1 - share) / max(1 - 2 * partials / window.length, 0.1)
    return Pitch(fit.omega * rate / (2 * math.pi), max(0.0, 1 - rest), window.length, fit.power)


def _stages(partials: int, top_hz: float) -> tuple[int, ...]:
    """Smaller numbers of partials to begin with in a smeared band, where the pitch may be far from the candidate."""
    if top_hz == TOP_HZ:
        return ()
    return tuple(sorted({max(1, partials // 4), max(1, partials // 2)} - {partials}))
