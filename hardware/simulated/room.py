"""A room as impulse responses: travel, a few early reflections and a tail of noise that dies away."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.units import RATE, Samples, gain_of, samples_of

Exact = NDArray[np.float64]

REFLECTIONS: Final = 6
REFLECTIONS_WITHIN: Final = 0.035
"""Seconds after the direct sound within which the early reflections arrive."""
TAIL_AFTER: Final = 0.004
"""Seconds after the direct sound when the tail begins."""
NOISE_SAMPLES: Final = 1 << 19
"""Length of the noise before it comes round again, 11 s."""


@dataclass(frozen=True, slots=True)
class Room:
    """What lies between loudspeaker, players and microphone.

    Parameters
    ----------
    rt60 : float
        Seconds in which the tail falls by 60 dB; 0 is a room without echo.
    delay_ms : float
        Travel from the loudspeaker to the microphone.
    latency : int
        Samples that the sound card takes from a block handed out to the loudspeaker and back from the microphone.
    speaker_db : float
        Level at the microphone of the loudspeaker's direct sound, in dB against what the box puts out.
    reverb_db : float
        Energy of the tail against the direct sound of the loudspeaker.
    player_ms : float
        Travel from the players to the microphone.
    player_reverb_db : float
        Energy of the tail against the direct sound of the players, who are nearer.
    noise_db : float
        Room and microphone noise, RMS in dB below full scale; pink.
    """

    rt60: float = 0.8
    delay_ms: float = 12.0
    latency: int = 1536
    speaker_db: float = -10.0
    reverb_db: float = -3.0
    player_ms: float = 6.0
    player_reverb_db: float = -9.0
    noise_db: float = -66.0


def response(rt60: float, delay: int, reverb_db: float, generator: np.random.Generator) -> Samples:
    """Impulse response of one path, float32, shape (delay + tail,); the direct sound is 1 at sample `delay`.

    The tail is Gaussian noise that falls exponentially by 60 dB in `rt60` seconds, where it is cut. Its energy with the
    early reflections is `reverb_db` against the direct sound. A tail of decaying noise is what Schroeder's method of
    measuring reverberation expects (JASA 37, 1965; from memory).
    """
    decay = samples_of(rt60)
    late = np.zeros(max(decay, 1))
    if decay:
        start = min(samples_of(TAIL_AFTER), decay - 1)
        fall = np.exp(-3.0 * math.log(10.0) * np.arange(decay) / decay)
        late[start:] = generator.standard_normal(decay)[start:] * fall[start:]
        _reflect(late, fall, generator)
        late *= gain_of(reverb_db) / math.sqrt(float(np.sum(late**2)))
    whole = np.zeros(delay + len(late))
    whole[delay:] = late
    whole[delay] = 1.0
    return whole.astype(np.float32)


def _reflect(late: Exact, fall: Exact, generator: np.random.Generator) -> None:
    """Add the early reflections, each a little louder than the noise around it."""
    places = generator.integers(1, max(2, samples_of(REFLECTIONS_WITHIN)), REFLECTIONS)
    for place, sign in zip(places, generator.choice((-1.0, 1.0), REFLECTIONS), strict=True):
        if place < len(late):
            late[place] += sign * 6.0 * fall[place]


def pink_noise(count: int, level_db: float, generator: np.random.Generator) -> Samples:
    """Pink noise of an RMS level, float32, shape (count,), from 20 Hz up; its end meets its beginning."""
    hz = np.fft.rfftfreq(count, 1.0 / RATE)
    shape = np.zeros(len(hz))
    heard = hz >= 20.0
    shape[heard] = 1.0 / np.sqrt(hz[heard])
    phases = np.exp(2j * np.pi * generator.random(len(hz)))
    noise = np.fft.irfft(shape * phases, count)
    noise *= gain_of(level_db) / math.sqrt(float(np.mean(noise**2)))
    return noise.astype(np.float32)
