"""Pitch of a tone that moves inside the window, as in a vibrato: frequency at the centre, slope and bend."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal
from firmware.hearing.harmonic import Single, harmonics

ROUNDS: Final = 2
"""Corrections with each number of partials; the fewest come first, as they bear the largest error."""

SMALL_TURN: Final = 0.05
"""A correction that turns no partial by more radians than this needs no other after it."""

LARGEST: Final = 0.03
"""A correction moves the frequency anywhere in the window by no more than this share."""

GRAIN: Final = 1e-6
"""Share of the diagonal that is added to the normal equations, so that they stay solvable in single precision."""


@dataclass(frozen=True, slots=True)
class Motion:
    """A harmonic tone whose frequency is `omega * (1 + slope * x + bend * x**2)`, x from -1 to 1 over the window.

    omega in radians per sample; `power` is the explained energy of each partial, `error` the standard deviation of
    omega to expect, as a share of it.
    """

    omega: float
    slope: float
    bend: float
    power: NDArray[np.float64]
    error: float

    @property
    def explained(self) -> float:
        """Energy of the sound that this explains."""
        return float(self.power.sum())


def moving(sound: Signal, omega: float, stages: tuple[int, ...]) -> Motion:
    """Fit a tone whose frequency follows a parabola.

    Parameters
    ----------
    sound : Signal
        One window, shape (n,), n even.
    omega : float
        Where to begin, radians per sample.
    stages : tuple of int
        Numbers of partials, the last of them those that are read with.

    Returns
    -------
    Motion
        The best found; with slope and bend 0 if nothing explains the sound better.

    Notes
    -----
    Separable least squares with the phase a polynomial of third order (Golub & Pereyra 1973): amplitudes are solved
    for, frequency, slope and bend corrected by Gauss-Newton. Over 77 ms a parabola is within 0.15 cent of a vibrato of
    20 cents at 5.5 Hz, while a steady tone is several cents off at its turning points.
    """
    half = len(sound) / 2
    place: Signal = np.asarray((np.arange(len(sound)) + 0.5) / half - 1, np.float64)
    target = sound.astype(np.float32)
    path: Signal = np.array([omega, 0.0, 0.0], dtype=np.float64)
    best = _fit(target, place, path, stages[0])
    for partials in stages:
        best = best if partials == stages[0] else _fit(target, place, best.path, partials)
        for _ in range(ROUNDS):
            turn = float(np.abs(best.step).sum()) * half * partials
            better = _fit(target, place, np.asarray(best.path + best.step, np.float64), partials)
            if better.power.sum() <= best.power.sum():
                break
            best = better
            if turn < SMALL_TURN:
                break
    left = max(float(target @ target) - float(best.power.sum()), 0.0)
    spread = math.sqrt(left / max(len(sound) - 2 * stages[-1] - 3, 1) * max(best.variance, 0.0))
    omega, slope, bend = (float(value) for value in best.path)
    return Motion(omega, 2 * slope / omega, 3 * bend / omega, best.power, spread / omega)


def may_move(sound: Signal, omega: float, partials: int) -> float:
    """Energy that slope and bend would explain more, as one correction of a steady tone tells, shape (n,) as above.

    As a share of what would then be left. It holds where the steady tone explains nearly all (a score test: Rao 1948).
    """
    place: Signal = np.asarray((np.arange(len(sound)) + 0.5) / (len(sound) / 2) - 1, np.float64)
    target = sound.astype(np.float32)
    fit = _fit(target, place, np.array([omega, 0.0, 0.0], dtype=np.float64), partials)
    left = float(target @ target) - float(fit.power.sum()) - fit.gain
    return max(fit.gain, 0.0) / max(left, 1e-300)


@dataclass(frozen=True, slots=True)
class _Fit:
    """One solution for the amplitudes: the phase is half * (path @ (x, x**2, x**3)).

    `step` corrects the path, and should explain `gain` more.
    """

    path: Signal
    power: Signal
    step: Signal
    variance: float
    gain: float


def _fit(target: Single, place: Signal, path: Signal, partials: int) -> _Fit:
    half = len(target) / 2
    powers = half * np.stack([place, place**2, place**3])
    cos, sin = harmonics(path @ powers, partials)
    basis = np.concatenate([cos, sin])
    gram = (basis @ basis.T).astype(np.float64)
    gram[np.diag_indices_from(gram)] *= 1 + GRAIN
    along = (basis @ target).astype(np.float64)
    number = np.arange(1, partials + 1)
    weights = np.asarray(np.linalg.solve(gram, along), np.float64)
    a, b = np.split(weights, 2)
    slope = (number * b).astype(np.float32) @ cos - (number * a).astype(np.float32) @ sin
    columns = slope * powers.astype(np.float32)
    inside = (columns @ basis.T).astype(np.float64)
    left = target - weights.astype(np.float32) @ basis
    square = (columns @ columns.T).astype(np.float64) - inside @ np.linalg.solve(gram, inside.T)
    scale = np.sqrt(np.maximum(np.diag(square), 1e-30))
    inverse = np.linalg.inv(square / np.outer(scale, scale) + GRAIN * np.eye(3)) / np.outer(scale, scale)
    slopes = (columns @ left).astype(np.float64)
    step = inverse @ slopes
    reach = float(np.abs(step * (1, 2, 3)).sum()) / path[0]
    power = (weights * along).reshape(2, -1).sum(axis=0)
    return _Fit(path, power, step * min(1.0, LARGEST / max(reach, 1e-12)), float(inverse[0, 0]), float(slopes @ step))
