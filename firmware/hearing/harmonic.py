"""Least squares of one harmonic tone in a window: how much it explains, and the frequency that explains most."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal

Single = NDArray[np.float32]
"""Arrays of the inner loop."""

PIECE: Final = 32
"""Samples in which the phasors of a steady tone are the same but for one turn."""

SMALL_TURN: Final = 0.01
"""Radians under which a correction changes what is explained by nothing that could be measured again."""

FLAT: Final[Signal] = np.array([1.0])
TAPER: Final[Signal] = np.array([3.0, 4.0, 1.0]) / 8
"""cos^4 as a sum of cosines of 0, 1 and 2 turns over the window."""

LARGE_TURN: Final = 0.5
"""Radians at the ends of the window up to which one Gauss-Newton correction is exact enough."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A harmonic tone fitted to a window.

    omega is the fundamental in radians per sample, `power` the explained energy of each partial (sums to `explained`),
    `step` the Gauss-Newton correction of omega that this fit suggests, `information` what the window knows of omega:
    the noise per sample over it is the variance of omega (0 if that was not asked for).
    """

    omega: float
    explained: float
    power: NDArray[np.float64]
    step: float
    information: float = 0.0


class Window:
    """One stretch of sound, folded about its centre.

    Parameters
    ----------
    sound : Signal
        Shape (n,), n even.
    tapered : bool
        Whether its middle counts most: squares are weighted by cos^4, which falls to 0 at both ends. That reads a pitch
        half as exactly in noise, but a hundred times less of what a tone does at the ends gets into it.

    Notes
    -----
    With time counted from the centre, cosines see only the even part of the sound and sines only the odd part, so the
    normal equations fall apart into two K by K systems whose Gram matrices are sums of Dirichlet kernels.
    Kay, *Fundamentals of Statistical Signal Processing: Estimation Theory*, 8.8 (separable least squares); the step is
    Kaufman's form of Gauss-Newton for variable projection.
    """

    def __init__(self, sound: Signal, *, tapered: bool = False) -> None:
        half = len(sound) // 2
        right = sound[half:]
        left = sound[half - 1 :: -1]
        self.length = 2 * half
        self.energy = float(sound @ sound)
        self._first = float(left @ left)
        self._even: Single = ((right + left) / 2).astype(np.float32)
        self._odd: Single = ((right - left) / 2).astype(np.float32)
        self._time: Signal = np.arange(half, dtype=np.float64) + 0.5
        self._weight: Single | None = None
        if tapered:
            self._weight = (np.cos(np.pi * self._time / self.length) ** 4).astype(np.float32)

    def fit(self, omega: float, partials: int, *, improve: bool = True) -> Fit:
        """Fit `partials` harmonics of `omega`; without `improve` the step is left 0."""
        turns = _steady_harmonics(omega, len(self._time), partials)
        grams = _grams(omega, partials, self.length, TAPER if self._weight is not None else FLAT)
        inverse: Signal = np.asarray(np.linalg.inv(grams), np.float64)
        inside: Signal = np.asarray(_in_parts(turns, self._weighted(self._even), self._weighted(self._odd)), np.float64)
        weights: Signal = np.asarray((inverse @ inside[:, :, None])[:, :, 0], np.float64)
        power: Signal = np.asarray((weights * inside).sum(axis=0), np.float64)
        step, information = self._step(turns, weights, inverse) if improve else (0.0, 0.0)
        return Fit(omega, float(power.sum()), power, step, information)

    def evenness(self) -> float:
        """Energy of the fainter half as a share of that of the other."""
        other = self.energy - self._first
        return min(self._first, other) / max(self._first, other, 1e-300)

    def noise(self, fit: Fit) -> float:
        """Energy per sample that a fit leaves, its free parameters allowed for."""
        return max(self.energy - fit.explained, 0.0) / max(self.length - 2 * len(fit.power), 1)

    def error(self, fit: Fit) -> float:
        """Standard deviation of the frequency of a fit in the noise that it leaves, as a share of the frequency."""
        return math.sqrt(self.noise(fit) / fit.information) / fit.omega if fit.information > 0 else math.inf

    def refine(self, omega: float, partials: int, rounds: int) -> Fit:
        """Repeat the fit at the corrected frequency; a correction is at most 2 % and half a cycle over the window.

        One more round is given to a correction that turns the highest partial by so much that it was no small one.
        """
        fit = self.fit(omega, partials)
        for round_ in range(rounds + 1):
            limit = min(0.02 * fit.omega, np.pi / self.length)
            step = max(-limit, min(limit, fit.step))
            turn = abs(step) * partials * self.length / 2
            if turn < SMALL_TURN:
                return replace(fit, omega=fit.omega + step, step=0.0)
            more = round_ + 1 < rounds or (turn > LARGE_TURN and round_ < rounds)
            better = self.fit(fit.omega + step, partials, improve=more)
            if better.explained < fit.explained:
                break
            fit = replace(better, information=better.information or fit.information)
            if not more:
                break
        return fit

    def nearer(self, omega: float, partials: int) -> float:
        """The frequency that one correction gives, checked only where that is a large one."""
        return self.corrected(omega, partials).omega

    def corrected(self, omega: float, partials: int) -> Fit:
        """The fit at a frequency that is about known, with its one correction; more only where that is a large one."""
        fit = self.fit(omega, partials)
        if abs(fit.step) * partials * self.length / 2 > LARGE_TURN:
            return self.refine(omega, partials, 1)
        return replace(fit, omega=omega + fit.step, step=0.0)

    def _step(self, turns: Single, weights: Signal, inverse: Signal) -> tuple[float, float]:
        """Gauss-Newton correction of the frequency, the amplitudes free to follow, and the information on it."""
        number = np.arange(1, weights.shape[1] + 1)
        asked = np.concatenate([weights, number * weights]).astype(np.float32)
        sums = (asked @ turns).reshape(4, -1, 2)
        time = self._time.astype(np.float32)
        slope_even, slope_odd = -time * sums[2, :, 1], time * sums[3, :, 0]
        rest_even, rest_odd = self._even - sums[0, :, 0], self._odd - sums[1, :, 1]
        weighted_even, weighted_odd = self._weighted(slope_even), self._weighted(slope_odd)
        along: Signal = np.asarray(_in_parts(turns, weighted_even, weighted_odd), np.float64)
        length = 2 * float(weighted_even @ slope_even + weighted_odd @ slope_odd)
        length -= float((along * (inverse @ along[:, :, None])[:, :, 0]).sum())
        if length <= 0:
            return 0.0, 0.0
        return float(2 * (rest_even @ weighted_even + rest_odd @ weighted_odd) / length), length

    def _weighted(self, half: Single) -> Single:
        return half if self._weight is None else half * self._weight


def _in_parts(turns: Single, even: Single, odd: Single) -> Signal:
    """Inner products over the whole window of the cosines with its even part and of the sines with its odd one.

    A column of its own for each: summed in one product of matrices, single precision errs by several times as much.
    """
    parts = np.zeros((2, 2 * len(even)), dtype=np.float32)
    parts[0, ::2] = even
    parts[1, 1::2] = odd
    return 2.0 * np.stack([turns @ parts[0], turns @ parts[1]]).astype(np.float64)


def _steady_harmonics(omega: float, half: int, partials: int) -> Single:
    """Cosines and sines in turn at half, one and a half ... samples, shape (partials, 2 * half).

    The first row is an outer product of few phasors, as complex exponentials are what costs most here.
    """
    coarse = np.exp(1j * omega * PIECE * np.arange(-(-half // PIECE)))
    fine = np.exp(1j * omega * (np.arange(PIECE) + 0.5))
    return _multiples(np.multiply.outer(coarse, fine).ravel()[:half], partials).view(np.float32)


def harmonics(phase: Signal, partials: int) -> tuple[Single, Single]:
    """Cosines and sines of the multiples of `phase`, each shape (partials, n), by doubling.

    Single precision errs by -110 dB here, is twice as fast, and stays under the size from which the allocator asks the
    kernel for fresh pages each time (ten times as slow).
    """
    turns = _multiples(np.exp(1j * phase), partials)
    return np.ascontiguousarray(turns.real), np.ascontiguousarray(turns.imag)


def _multiples(first: NDArray[np.complex128], partials: int) -> NDArray[np.complex64]:
    """Powers of phasors from the first on, each a row."""
    turns = np.empty((partials, len(first)), dtype=np.complex64)
    turns[0] = first
    have = 1
    while have < partials:
        more = min(have, partials - have)
        np.multiply(turns[:more], turns[have - 1], out=turns[have : have + more])
        have += more
    return turns


@lru_cache(maxsize=128)
def _places(partials: int) -> tuple[NDArray[np.int64], NDArray[np.int64], Signal]:
    """Differences and sums of the numbers of two partials, and the grain on the diagonal."""
    number = np.arange(1, partials + 1)
    arrays = np.abs(number[:, None] - number), number[:, None] + number, np.eye(partials) * 1e-9
    for array in arrays:
        array.flags.writeable = False
    return arrays


def _grams(omega: float, partials: int, length: int, taper: Signal) -> Signal:
    """Inner products of the cosines and of the sines over the whole window, shape (2, partials, partials).

    `taper` is the window's weight as a sum of cosines of whole turns over it. A grain is added so both stay solvable.
    """
    turns = omega * np.arange(2 * partials + 1)
    apart = 2 * math.pi / length * np.arange(1 - len(taper), len(taper))
    half = (turns + apart[:, None]) / 2
    below = np.sin(half)
    flat = np.abs(below) < 1e-9
    below[flat] = 1.0
    each = np.sin(length * half) / below
    each[flat] = length
    kernel = np.concatenate([taper[:0:-1] / 2, taper[:1], taper[1:] / 2]) @ each / 2
    difference, total, grain = _places(partials)
    apart, together = kernel[difference] + grain * length, kernel[total]
    return np.stack([apart + together, apart - together])
