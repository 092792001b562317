"""How the virtual players sound: additive spectra like those of instruments, shaped by a slope and formants."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from firmware.errors import UnknownNameError
from firmware.units import RATE, Samples, gain_of

TABLE: Final = 4096
"""Samples of one period; linear interpolation of partial 20 then errs by -78 dB."""
PARTIALS: Final = 40
HIGHEST_HZ: Final = 15_000.0


@dataclass(frozen=True, slots=True)
class PlayerTimbre:
    """One kind of player.

    `slope_db` is dB per octave of partial number, `even_db` what even partials lose, each formant is (Hz, gain in dB,
    width in octaves); `breath_db` is noise against the tone; attack and release in seconds.
    """

    name: str
    slope_db: float
    even_db: float = 0.0
    formants: tuple[tuple[float, float, float], ...] = ()
    breath_db: float = -50.0
    attack: float = 0.05
    release: float = 0.08


PLAYER_TIMBRES: Final = (
    PlayerTimbre("flute", -12.0, breath_db=-34.0, attack=0.09, release=0.09),
    PlayerTimbre("clarinet", -6.0, even_db=-22.0, formants=((1500.0, 6.0, 0.8),), breath_db=-46.0, attack=0.05),
    PlayerTimbre("oboe", -5.0, formants=((1000.0, 12.0, 0.5), (2800.0, 8.0, 0.5)), attack=0.04),
    PlayerTimbre("bassoon", -7.0, formants=((480.0, 14.0, 0.6), (1150.0, 6.0, 0.5)), attack=0.05),
    PlayerTimbre("saxophone", -6.0, formants=((800.0, 8.0, 0.9),), breath_db=-42.0, attack=0.04),
    PlayerTimbre("trumpet", -4.0, formants=((1200.0, 9.0, 0.9), (2400.0, 5.0, 0.6)), attack=0.03),
    PlayerTimbre("horn", -9.0, formants=((450.0, 8.0, 0.8),), attack=0.06, release=0.12),
    PlayerTimbre("trombone", -5.0, formants=((600.0, 8.0, 0.9),), attack=0.04),
    PlayerTimbre("tuba", -9.0, formants=((230.0, 6.0, 0.9),), attack=0.07, release=0.12),
    PlayerTimbre("strings", -6.0, formants=((450.0, 4.0, 0.5), (2500.0, 6.0, 0.7)), breath_db=-44.0, attack=0.12),
    PlayerTimbre("voice", -9.0, formants=((650.0, 12.0, 0.4), (1100.0, 8.0, 0.4), (2900.0, 8.0, 0.4)), attack=0.10),
)


def player_timbre(name: str) -> PlayerTimbre:
    """Find a timbre by name; raises UnknownNameError."""
    for timbre in PLAYER_TIMBRES:
        if timbre.name == name:
            return timbre
    raise UnknownNameError("timbre of a player", name, (timbre.name for timbre in PLAYER_TIMBRES))


def partials(timbre: PlayerTimbre, hz: float) -> Samples:
    """Amplitudes of the partials of a tone of `hz`, shape (k,), none above 15 kHz."""
    numbers = np.arange(1, max(2, min(PARTIALS, int(HIGHEST_HZ / hz)) + 1))
    level_db = timbre.slope_db * np.log2(numbers)
    level_db[1::2] += timbre.even_db
    for centre, gain, width in timbre.formants:
        level_db += gain * np.exp(-0.5 * (np.log2(numbers * hz / centre) / width) ** 2)
    return np.asarray(10.0 ** (level_db / 20.0), dtype=np.float32)


def one_period(timbre: PlayerTimbre, hz: float) -> Samples:
    """One period of RMS 1, float32, shape (TABLE + 1,); the last sample repeats the first.

    The fundamental is a sine that begins at phase 0; the others are spread (Schroeder 1970, phases for low peaks).
    """
    amplitudes = partials(timbre, hz).astype(np.float64)
    spectrum = np.zeros(TABLE // 2 + 1, np.complex128)
    numbers = np.arange(len(amplitudes))
    spectrum[1 : len(amplitudes) + 1] = -1j * amplitudes * np.exp(-1j * np.pi * numbers**2 / len(amplitudes))
    period = np.fft.irfft(spectrum)
    period /= np.sqrt(np.mean(period**2))
    return np.append(period, period[0]).astype(np.float32)


def breath(timbre: PlayerTimbre, hz: float, count: int, generator: np.random.Generator) -> Samples:
    """Noise around and above a tone, RMS `breath_db` against a tone of RMS 1, shape (count,); it comes round again."""
    bins = np.fft.rfftfreq(count, 1.0 / RATE)
    shape = 1.0 / (1.0 + (np.maximum(bins, 1.0) / (4.0 * hz)) ** 2) * (bins > 0.5 * hz)
    noise = np.fft.irfft(shape * np.exp(2j * np.pi * generator.random(len(bins))), count)
    noise *= gain_of(timbre.breath_db) / np.sqrt(np.mean(noise**2))
    return noise.astype(np.float32)
