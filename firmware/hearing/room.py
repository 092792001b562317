"""What the room check has learned: the way from the box's own sound to its microphone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal
from firmware.units import gain_of

SEGMENT: Final = 256
"""Samples that share one table of phasors in `Room.response_at`."""


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """The way from own sound to the microphone, loudspeaker, air and sound card included.

    Parameters
    ----------
    rate : int
        Samples per second.
    impulse : array of shape (n,)
        Impulse response: microphone = own sound convolved with it, on the clock of own sound. Read-only.
    lead : int
        Samples of `impulse` before time 0. They hold nothing but the ringing of low octaves, which are measured with
        filters that ring both ways.
    since : int
        Sample count of own sound at which `delay` held. With clocks apart, sound of sample n arrives another
        (n - since) * clock_ppm / 1e6 samples later.
    error_hz, error_density : arrays of shape (m,)
        Expected squared error of the response at some frequencies. Read-only.
    delay : float
        Samples until the direct sound arrives.
    level_db : float
        Gain of the way for pink sound from 50 to 5000 Hz.
    rt60 : float or None
        Reverberation time in seconds between 250 and 2000 Hz, None where noise hides it.
    floor_db, floor_a_db : float
        RMS of the microphone while the box was silent, plain and A-weighted, in dB re full scale.
    hum_hz, hum_db : float
        Mains frequency and level of the hum found in that silence; 0 and -120 for none.
    clock_ppm : float
        By how many parts in a million the microphone's clock runs fast against that of own sound.
    clock_sd_ppm : float
        Standard error of that.
    distortion_db : float
        Energy of what the loudspeaker's distortion adds against the linear answer.
    clipped : bool
        Whether the microphone touched full scale during the check.
    """

    rate: int
    impulse: Signal
    lead: int
    since: int
    error_hz: Signal
    error_density: Signal
    delay: float
    level_db: float
    rt60: float | None
    floor_db: float
    floor_a_db: float
    hum_hz: float
    hum_db: float
    clock_ppm: float
    clock_sd_ppm: float
    distortion_db: float
    clipped: bool

    def response_at(self, hz: NDArray[np.float64] | float) -> NDArray[np.complex128]:
        """Complex response at some frequencies: what becomes of a steady line `exp(2j pi f t)` of own sound.

        Parameters
        ----------
        hz : array of shape (k,) or float
            Frequencies.

        Returns
        -------
        array of shape (k,)
            One for each; exact for `impulse`, see `error_at` for how well that is known.
        """
        angle = 2 * np.pi * np.atleast_1d(np.asarray(hz, dtype=np.float64)) / self.rate
        segments = -(-len(self.impulse) // SEGMENT)
        table = np.zeros((segments, SEGMENT))
        table.reshape(-1)[: len(self.impulse)] = self.impulse
        inner = np.exp(-1j * np.outer(np.arange(SEGMENT), angle))
        outer = np.exp(-1j * np.outer(np.arange(segments) * SEGMENT - self.lead, angle))
        result: NDArray[np.complex128] = np.sum((table @ inner) * outer, axis=0)
        return result

    def error_at(self, hz: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Expected size (root mean square) of the error of `response_at`, shape (k,)."""
        asked = np.log(np.maximum(np.atleast_1d(np.asarray(hz, dtype=np.float64)), 1.0))
        density = np.interp(asked, np.log(self.error_hz), np.log(self.error_density))
        return np.asarray(np.exp(0.5 * density))

    def removal_db(self, hz: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """How far a steady line of own sound is expected to be taken down when it is predicted, in dB, shape (k,)."""
        size = np.abs(self.response_at(hz))
        return np.asarray(20.0 * np.log10(np.maximum(size, 1e-12) / self.error_at(hz)))

    def later(self, samples: int) -> Room:
        """The same on a stream in which the stretch that was learned from begins so many samples later."""
        return replace(self, since=self.since + samples)

    def amplified(self, gain_db: float) -> Room:
        """The same with the microphone's gain turned up by some decibels since."""
        gain = gain_of(gain_db)
        impulse = self.impulse * gain
        density = self.error_density * gain**2
        for values in (impulse, density):
            values.flags.writeable = False
        return replace(
            self,
            impulse=impulse,
            error_density=density,
            level_db=self.level_db + gain_db,
            floor_db=self.floor_db + gain_db,
            floor_a_db=self.floor_a_db + gain_db,
            hum_db=self.hum_db + gain_db,
        )
