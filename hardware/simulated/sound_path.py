"""From the test sound to what a microphone makes of it, with all that can be wrong on the way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.room_clock import on_other_clock
from firmware.units import RATE, Samples, gain_of, samples_of
from hardware.simulated.room import pink_noise, response

Exact = NDArray[np.float64]

SEED: Final = 7
FOLLOW_SECONDS: Final = 0.05
"""An automatic gain looks at so much of the past."""


@dataclass(frozen=True, slots=True)
class SoundPath:
    """Loudspeaker, room and microphone; the defaults are those of a box without a fault.

    Parameters
    ----------
    card : str
        Why there is no sound card; empty if there is one.
    speaker : bool
        Whether anything sounds.
    drive : float
        How hard the loudspeaker is driven into saturation; 0 is not at all.
    delay_ms : float
        From the card to the microphone.
    level_db : float
        Direct sound at the microphone against what is played.
    mic : str
        "fine", "zero" (muted in the card) or "dead" (its own hiss alone).
    gain_db : float
        Of the microphone, against what it should be.
    automatic : bool
        Whether it sets its own gain.
    offset, noise_db : float
        Offset of its signal, and noise of room and microphone, RMS in dB re full scale.
    hum_hz, hum_db : float
        Hum of the mains and its level; 0 Hz is none.
    clock_ppm : float
        By how many parts in a million its clock runs fast.
    mic_rate : float
        Samples that it in truth takes in a second.
    lost : int
        Blocks that were lost.
    """

    card: str = ""
    speaker: bool = True
    drive: float = 0.0
    delay_ms: float = 55.0
    level_db: float = -16.5
    mic: str = "fine"
    gain_db: float = 0.0
    automatic: bool = False
    offset: float = 0.0
    noise_db: float = -66.0
    hum_hz: float = 0.0
    hum_db: float = -40.0
    clock_ppm: float = 0.0
    mic_rate: float = RATE
    lost: int = 0


def heard_through(path: SoundPath, own: Samples) -> Samples:
    """What the microphone hears of some sound, shape (n,) as it is; the same every time."""
    generator = np.random.Generator(np.random.PCG64(SEED))
    if path.mic == "zero":
        return np.zeros_like(own)
    if path.mic == "dead":
        return pink_noise(len(own), -96.0, generator)
    sound = _air(path, np.asarray(own, dtype=np.float64), generator)
    sound += pink_noise(len(own), path.noise_db, generator)
    if path.hum_hz:
        time = np.arange(len(own)) / RATE
        for number, share in enumerate((1.0, 0.5, 0.35, 0.2), start=1):
            sound += gain_of(path.hum_db) * share * np.sin(2 * np.pi * number * path.hum_hz * time)
    sound *= gain_of(path.gain_db)
    if path.automatic:
        sound = _evened(sound)
    sound = _sampled(path, sound + path.offset)
    return np.asarray(np.clip(sound, -1.0, 1.0), dtype=np.float32)


def _air(path: SoundPath, own: Exact, generator: np.random.Generator) -> Exact:
    answer = response(0.4, samples_of(path.delay_ms / 1000), -3.0, generator) * gain_of(path.level_db)
    if not path.speaker:
        return np.zeros(len(own))
    if path.drive:
        own = np.tanh(path.drive * own) / path.drive
    size = len(own) + len(answer)
    return np.fft.irfft(np.fft.rfft(own, size) * np.fft.rfft(answer, size), size)[: len(own)]


def _evened(sound: Exact) -> Exact:
    """An automatic gain: it follows the level and gives three quarters of each difference back."""
    span = samples_of(FOLLOW_SECONDS)
    sums = np.concatenate([[0.0], np.cumsum(sound**2)])
    places = np.arange(1, len(sound) + 1)
    begins = np.maximum(places - span, 0)
    level = np.sqrt((sums[places] - sums[begins]) / (places - begins) + 1e-8)
    return np.asarray(sound * (0.02 / level) ** 0.75)


def _sampled(path: SoundPath, sound: Exact) -> Exact:
    """The sound as another clock or another rate takes it."""
    if path.clock_ppm:
        sound = on_other_clock(sound, -path.clock_ppm)
    if path.mic_rate != RATE:
        places = np.arange(len(sound)) * RATE / path.mic_rate
        sound = np.interp(places, np.arange(len(sound)), sound, right=0.0)
    return sound
