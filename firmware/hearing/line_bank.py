"""A bank of steady lines: projects hops of sound on them, fits them over many hops, predicts them."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal
from firmware.hearing.lines import Phasors

RIDGE: Final = 1e-6
"""Share of the diagonal that is added, so that lines too close for the stretch share what they can't divide."""


class LineBank:
    """Lines of known frequency; a phasor `p` stands for the sound `Re(p exp(j omega n))`, n counted from hop 0.

    Parameters
    ----------
    omega : Signal
        Radians per sample, shape (lines,).
    hop : int
        Samples in a hop.
    """

    def __init__(self, omega: Signal, hop: int) -> None:
        self.omega = omega
        self.hop = hop
        phase = omega[:, None] * np.arange(hop)
        self._waves = np.concatenate([np.cos(phase), np.sin(phase)])
        self._apart, self._together = _kernels(omega, hop)

    def turned(self, index: int) -> Phasors:
        """Return what phasors are multiplied by to count from the start of a hop instead of hop 0."""
        turn: Phasors = np.exp(1j * ((self.omega * self.hop * index) % (2 * np.pi)))
        return turn

    def project(self, sound: Signal) -> Phasors:
        """Inner products of one hop with every line, time counted within the hop."""
        both = self._waves @ sound
        half = len(self.omega)
        out: Phasors = both[:half] - 1j * both[half:]
        return out

    def predict(self, phasors: Phasors, index: int) -> Signal:
        """Sound of the lines in one hop, shape (hop,)."""
        local = phasors * self.turned(index)
        out: Signal = np.concatenate([local.real, -local.imag]) @ self._waves
        return out

    def fit(self, projections: NDArray[np.complex128], indexes: NDArray[np.int64], weights: Signal) -> Phasors:
        """Weighted least squares over many hops.

        Parameters
        ----------
        projections : array
            From `project`, shape (hops, lines).
        indexes : array
            Which hops, shape (hops,).
        weights : Signal
            Weight of each hop, shape (hops,).

        Returns
        -------
        Phasors
            Shape (lines,).

        Notes
        -----
        The Gram matrix over all samples is that of one hop times a sum over hops, both in closed form, so the cost does
        not depend on the number of samples.
        """
        turns = np.exp(1j * self.hop * np.outer(self.omega, indexes))
        back = np.conj(turns) * weights
        apart = (back @ turns.T) * self._apart
        together = (back @ np.conj(turns).T) * self._together
        right = 2 * (back * projections.T).sum(axis=1)
        gram = np.block(
            [
                [apart.real + together.real, together.imag - apart.imag],
                [apart.imag + together.imag, apart.real - together.real],
            ]
        )
        gram[np.diag_indices_from(gram)] *= 1 + RIDGE
        both = np.linalg.solve(gram, np.concatenate([right.real, right.imag]))
        half = len(self.omega)
        out: Phasors = both[:half] + 1j * both[half:]
        return out


def _kernels(omega: Signal, length: int) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Sums over n from 0 to length - 1 of `exp(j (w' - w) n)` and of `exp(-j (w' + w) n)`, for all pairs of lines.

    The geometric series is `exp(j x (length - 1) / 2) sin(x length / 2) / sin(x / 2)`; by the addition theorems all of
    it comes from sines and cosines of single lines, which is seven times cheaper than from those of pairs.
    """
    sine, cosine = np.sin(omega / 2), np.cos(omega / 2)
    long_sine, long_cosine = np.sin(length * omega / 2), np.cos(length * omega / 2)
    turn: Phasors = np.exp(0.5j * omega * (length - 1))
    apart = _ratio(_cross(long_sine, long_cosine, -1), _cross(sine, cosine, -1), length)
    together = _ratio(_cross(long_sine, long_cosine, 1), _cross(sine, cosine, 1), length)
    back: Phasors = np.conj(turn)[:, None]
    return apart * (back * turn), together * (back * back[:, 0])


def _cross(sine: Signal, cosine: Signal, sign: int) -> Signal:
    """Sine of the sum (sign 1) or of the difference, column less row (sign -1), of all pairs of angles."""
    mixed: Signal = np.outer(cosine, sine)
    return mixed + sign * mixed.T


def _ratio(over: Signal, under: Signal, length: int) -> Signal:
    flat = np.abs(under) < 1e-12
    ratio: Signal = np.where(flat, length, over / np.where(flat, 1.0, under))
    return ratio
