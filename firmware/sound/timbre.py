"""What a timbre is: levels of at most sixteen harmonic partials and how they roll off with frequency."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

PARTIALS: Final = 16
"""Partials of a voice; a timbre with fewer leaves the rest silent."""

FADE_FROM_HZ: Final = 14_000.0
"""Partials get weaker from here on, so that none drops out suddenly when the pitch rises."""

TOP_HZ: Final = 18_000.0
"""Nothing sounds from here on; half the sampling rate is far enough above it for every rate the box uses."""


@dataclass(frozen=True, slots=True)
class Timbre:
    """A steady additive spectrum: no vibrato and no chorus, because beats are what is being taught.

    Parameters
    ----------
    name, title : str
        What files and commands call it, and what the screen shows.
    levels_db : tuple of float
        Level of each harmonic partial before the roll-off, at most sixteen.
    corner_hz, order : float
        Roll-off: a partial at f is weakened by (1 + (f / corner)^2)^(order / 2).
    """

    name: str
    title: str
    levels_db: tuple[float, ...]
    corner_hz: float
    order: float

    def amplitudes(self, hz: NDArray[np.float64], rate: int) -> NDArray[np.float64]:
        """Amplitudes of all partials of some tones.

        Parameters
        ----------
        hz : array of shape (tones,)
            Frequencies of the tones in Hz.
        rate : int
            Samples per second.

        Returns
        -------
        array of shape (tones, 16)
            Peak amplitudes; their squares sum to 1 in each row, the power of a full-scale sine. A tone with no partial
            that may sound has a row of zeros.
        """
        levels = np.full(PARTIALS, -np.inf)
        levels[: len(self.levels_db)] = self.levels_db
        partial_hz = hz[:, None] * np.arange(1, PARTIALS + 1)
        raw = 10.0 ** (levels / 20.0) * (1.0 + (partial_hz / self.corner_hz) ** 2) ** (-self.order / 2.0)
        top = min(TOP_HZ, 0.45 * rate)
        bottom = top * FADE_FROM_HZ / TOP_HZ
        raw = raw * np.clip((top - partial_hz) / (top - bottom), 0.0, 1.0)
        power = np.sum(raw**2, axis=1, keepdims=True)
        unit: NDArray[np.float64] = raw / np.sqrt(np.where(power > 0.0, power, 1.0))
        return unit
