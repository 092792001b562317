"""Least squares of one harmonic tone in a window: how much it explains, and the frequency that explains most."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal

Single = NDArray[np.float32]
"""Arrays of the inner loop."""


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

    Notes
    -----
    With time counted from the centre, cosines see only the even part of the sound and sines only the odd part, so the
    normal equations fall apart into two K by K systems whose Gram matrices are sums of Dirichlet kernels.
    Kay, *Fundamentals of Statistical Signal Processing: Estimation Theory*, 8.8 (separable least squares); the step is
    Kaufman's form of Gauss-Newton for variable projection.
    """

    def __init__(self, sound: Signal) -> None:
        half = len(sound) // 2
        right = sound[half:]
        left = sound[half - 1 :: -1]
        self.length = 2 * half
        self.energy = float(sound @ sound)
        self._first = float(left @ left)
        self._even: Single = ((right + left) / 2).astype(np.float32)
        self._odd: Single = ((right - left) / 2).astype(np.float32)
        self._time: Signal = np.arange(half, dtype=np.float64) + 0.5

    def fit(self, omega: float, partials: int, *, improve: bool = True) -> Fit:
        """Fit `partials` harmonics of `omega`; without `improve` the step is left 0."""
        cos, sin = harmonics(omega * self._time, partials)
        gram_cos, gram_sin = _grams(omega, partials, self.length)
        in_cos = 2 * (cos @ self._even).astype(np.float64)
        in_sin = 2 * (sin @ self._odd).astype(np.float64)
        a = np.asarray(np.linalg.solve(gram_cos, in_cos), np.float64)
        b = np.asarray(np.linalg.solve(gram_sin, in_sin), np.float64)
        power = a * in_cos + b * in_sin
        step, information = self._step((cos, sin), (a, b), (gram_cos, gram_sin)) if improve else (0.0, 0.0)
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
            large = abs(step) * partials * self.length / 2 > LARGE_TURN
            more = round_ + 1 < rounds or (large and round_ < rounds)
            better = self.fit(fit.omega + step, partials, improve=more)
            if better.explained < fit.explained:
                break
            fit = replace(better, information=better.information or fit.information)
            if not more:
                break
        return fit

    def _step(
        self, basis: tuple[Single, Single], weights: tuple[Signal, Signal], grams: tuple[Signal, Signal]
    ) -> tuple[float, float]:
        """Gauss-Newton correction of the frequency, the amplitudes free to follow, and the information on it."""
        (cos, sin), (a, b), (gram_cos, gram_sin) = basis, weights, grams
        number = np.arange(1, len(a) + 1)
        time = self._time.astype(np.float32)
        slope_even = -time * ((number * a).astype(np.float32) @ sin)
        slope_odd = time * ((number * b).astype(np.float32) @ cos)
        rest_even = self._even - a.astype(np.float32) @ cos
        rest_odd = self._odd - b.astype(np.float32) @ sin
        along_cos = 2 * (cos @ slope_even).astype(np.float64)
        along_sin = 2 * (sin @ slope_odd).astype(np.float64)
        length = 2 * float(slope_even @ slope_even + slope_odd @ slope_odd)
        length -= float(along_cos @ np.linalg.solve(gram_cos, along_cos))
        length -= float(along_sin @ np.linalg.solve(gram_sin, along_sin))
        if length <= 0:
            return 0.0, 0.0
        return float(2 * (rest_even @ slope_even + rest_odd @ slope_odd) / length), length


def harmonics(phase: Signal, partials: int) -> tuple[Single, Single]:
    """Cosines and sines of the multiples of `phase`, each shape (partials, n), by doubling.

    Single precision errs by -110 dB here, is twice as fast, and stays under the size from which the allocator asks the
    kernel for fresh pages each time (ten times as slow).
    """
    turns = np.empty((partials, len(phase)), dtype=np.complex64)
    turns[0] = np.exp(1j * phase)
    have = 1
    while have < partials:
        more = min(have, partials - have)
        np.multiply(turns[:more], turns[have - 1], out=turns[have : have + more])
        have += more
    return np.ascontiguousarray(turns.real), np.ascontiguousarray(turns.imag)


def _grams(omega: float, partials: int, length: int) -> tuple[Signal, Signal]:
    """Inner products of the cosines and of the sines over the whole window; a grain is added so both stay solvable."""
    half = omega * np.arange(1, 2 * partials + 1) / 2
    below = np.sin(half)
    safe = np.where(np.abs(below) < 1e-9, 1.0, below)
    kernel = np.concatenate([[length], np.where(np.abs(below) < 1e-9, length, np.sin(length * half) / safe)])
    number = np.arange(1, partials + 1)
    apart = kernel[np.abs(number[:, None] - number)]
    together = kernel[number[:, None] + number]
    grain = np.eye(partials) * (1e-9 * length)
    return (apart + together) / 2 + grain, (apart - together) / 2 + grain
