"""Reads a note as soon as it has sounded for as long as its pitch takes, ahead of the ear's even hops."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from firmware.heard_events import Heard
from firmware.hearing.filters import Decimator, Fir, Signal, whitener
from firmware.hearing.harmonic import Fit, Window
from firmware.hearing.pitch_octaves import single
from firmware.hearing.pitch_spectrum import Spectrum, candidates_of, partials_of
from firmware.hearing.pitch_windows import Pitch, few_first
from firmware.units import RATE, Samples, db_of

FACTOR: Final = 4
OWN_SILENT: Final = 1e-5
OWN_SILENT_SECONDS: Final = 1.8
"""Own sound must have been silent for as long as a room may ring."""

PIECE: Final = 60
"""Samples at the lower rate in which a rise is looked for: 5 ms."""

BEFORE: Final = 24
"""Pieces before it that a beginning is compared with."""

RISE: Final = 10.0
"""A note begins where the power is 10 dB over that before."""

SKIPPED: Final = 24
"""Samples of a beginning, 2 ms, that are left out: there the tone is not yet itself."""

SHORTEST: Final = 200
LONGEST: Final = 900
"""Samples of a note, 17 to 75 ms, in which it is read here; after that the ear has it."""

PERIODS: Final = 2.0
TOP_HZ: Final = 2_000.0
LEAST_SHARE: Final = 0.9
MOST_CENTS: Final = 3.0
"""A reading must explain so much, and expect no larger error."""

QUIETEST_DB: Final = -60.0


def read_beginning(sound: Signal, rate: float) -> Pitch | None:
    """Read a tone of which a few periods have sounded.

    Parameters
    ----------
    sound : Signal
        Whitened sound that begins after the beginning, shape (n,).
    rate : float
        Samples per second.

    Returns
    -------
    Pitch or None
        None unless one tone explains nearly all of it and its pitch can be told to 3 cents.

    Notes
    -----
    The window holds the tone alone, so a steady tone fits it whole from two periods on, where one that began before the
    tone would have to be filled by it first.
    """
    sound = sound[len(sound) % 2 :]
    window = Window(sound)
    if window.energy <= 0 or len(sound) < SHORTEST:
        return None
    spectrum = Spectrum(sound, rate)
    fits = [_fitted(window, float(hz), rate) for hz in candidates_of(spectrum) if len(sound) * hz >= PERIODS * rate]
    if not fits:
        return None
    best = max(fits, key=lambda fit: fit.explained - 6 * len(fit.power) * window.noise(fit))
    hz = best.omega * rate / (2 * math.pi)
    partials = len(best.power)
    band = spectrum.band_share((partials + 0.6) * hz)
    left = max(0.0, 1 - best.explained / (window.energy * max(band, 1e-6)))
    share = 1 - left / max(1 - 2 * partials / len(sound), 0.1)
    pitch = Pitch(hz, share, len(sound), best.power, window.error(best))
    sure = share >= LEAST_SHARE and pitch.error <= MOST_CENTS * math.log(2) / 1200
    return pitch if sure and single(pitch) else None


def _fitted(window: Window, hz: float, rate: float) -> Fit:
    """The best fit near a candidate, with as many partials as so short a window can tell apart."""
    omega = 2 * math.pi * hz / rate
    partials = min(partials_of(hz, TOP_HZ), window.length // 5)
    for few in few_first(partials):
        omega = window.refine(omega, few, 1).omega
    return window.refine(omega, partials, 2)


class FirstLook:
    """Watches the microphone for notes that begin while the box is silent.

    Parameters
    ----------
    rate : int
        Samples per second of the microphone.
    """

    def __init__(self, rate: int = RATE) -> None:
        self._rate = rate / FACTOR
        self._slow = Decimator(FACTOR)
        self._white = Fir(whitener())
        self._gain = 1.0
        self._silent = 0
        self._count = 0
        self._heard: Signal = np.zeros(LONGEST + PIECE * (BEFORE + 2))
        self._start = -LONGEST
        self._open = False
        self._looked = 0

    def amplify(self, gain_db: float) -> None:
        """Set the gain of the microphone in dB; `process` is given the microphone without it."""
        self._gain = 10 ** (gain_db / 20)

    def process(self, mic: Samples, own: Samples) -> Heard | None:
        """Take in a block, both shape (n,); a reading if a note that has just begun can be read by now.

        `at` counts samples since the first block and is the centre of what was read.
        """
        sounding = float(np.abs(own).max(initial=0.0)) > OWN_SILENT
        self._silent = 0 if sounding else self._silent + len(own)
        new = self._white.process(self._slow.process(mic))
        self._heard = np.concatenate([self._heard, new])[-len(self._heard) :]
        self._count += len(new)
        if self._silent < OWN_SILENT_SECONDS * self._rate * FACTOR:
            self._open, self._looked = False, self._count // PIECE
            return None
        self._watch()
        return self._look() if self._open else None

    def _powers(self, before: int) -> Signal:
        """Power of each of the pieces before this one of the stream."""
        end = len(self._heard) - (self._count - before * PIECE)
        pieces = self._heard[end - BEFORE * PIECE : end].reshape(BEFORE, PIECE)
        power: Signal = (pieces**2).mean(axis=1)
        return power

    def _watch(self) -> None:
        """Find the piece in which a note begins."""
        done, self._looked = self._looked, self._count // PIECE
        oldest = (self._count - len(self._heard)) // PIECE + BEFORE + 1
        for index in range(max(done, BEFORE, oldest), self._looked):
            power = self._powers(index + 1)
            past = index * PIECE - self._start >= LONGEST
            if past and power[-1] > RISE * max(float(power[:-2].mean()), 1e-14):
                self._start, self._open = index * PIECE, True

    def _look(self) -> Heard | None:
        length = self._count - self._start - SKIPPED
        self._open = length <= LONGEST
        if not SHORTEST <= length <= LONGEST:
            return None
        sound = self._heard[-length:]
        level = db_of(self._gain * float(np.sqrt((sound**2).mean())))
        pitch = read_beginning(sound, self._rate) if level > QUIETEST_DB else None
        if pitch is None:
            return None
        self._open = False
        centre = (self._count - length // 2) * FACTOR - self._slow.delay
        return Heard(max(0, centre), pitch.hz, pitch.share, level)
