"""The answer: the exact target of the note that a player plays, in a spectrum that leaves room to hear the player."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.music.answer import answer_partials
from firmware.sound.phasors import CHUNK
from firmware.sound.ramp import Fader
from firmware.sound.snapshot import AnswerSound
from firmware.units import Samples, gain_of

RISE_SECONDS: Final = 0.06
FALL_SECONDS: Final = 0.03
"""A soft beginning and end: short enough to be silent soon, long enough not to click."""

HEADROOM_DB: Final = -6.0
"""An answer at level 0 has the power of a sine this far below full scale, like the drone."""

TOP_HZ: Final = 16_000.0
"""Partials from here on are left out."""

HZ_RANGE: Final = (20.0, 6000.0)
"""Targets outside these frequencies are not answered."""

MOST_VOICES: Final = 6
"""Tones that sound at once while targets change quickly; the oldest are already all but silent."""


@dataclass(frozen=True, slots=True, eq=False)
class _Voice:
    """One tone: phasors of its partials over a chunk, where its phase is counted from, and its gain."""

    key: tuple[float, str]
    turns: NDArray[np.float64]
    """Cycles per sample of each partial."""
    levels: NDArray[np.complex64]
    table: NDArray[np.complex64]
    """Shape (partials, CHUNK)."""
    origin: int
    gain: Fader


def _voice(wanted: AnswerSound, rate: int, position: int) -> _Voice:
    parts = answer_partials(wanted.octave)
    hz = np.array([wanted.hz * float(part.multiple) for part in parts])
    level = np.array([gain_of(part.level_db) for part in parts]) * (hz < min(TOP_HZ, 0.45 * rate))
    level /= np.sqrt(float(np.sum(level**2)))
    turns = hz / rate
    # Phases of a rising square, which keep peaks low (Schroeder 1970, IEEE Trans. Inf. Theory 16; from memory).
    start = np.exp(-1j * np.pi * np.arange(len(hz)) ** 2 / len(hz))
    table = np.exp(2j * np.pi * turns[:, None] * np.arange(CHUNK)).astype(np.complex64)
    return _Voice((wanted.hz, wanted.octave), turns, (level * start).astype(np.complex64), table, position, Fader())


class Answerer:
    """Sounds the tone of the snapshot and lets the one before it out.

    Parameters
    ----------
    rate : int
        Samples per second.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._voices: list[_Voice] = []

    def sound(self, wanted: AnswerSound, position: int, count: int) -> Samples | None:
        """The answer over `count` samples (at most 512) from `position` on; None while it is silent.

        Parameters
        ----------
        wanted : AnswerSound
            What the snapshot asks for.
        position, count : int
            First sample, and how many.

        Returns
        -------
        array of shape (count,), float32, or None
        """
        self._aim(wanted, position)
        self._voices = [voice for voice in self._voices if not voice.gain.shut(position)][-MOST_VOICES:]
        if not self._voices:
            return None
        total = np.zeros(count, dtype=np.float32)
        for voice in self._voices:
            tone = self._tone(voice, position, count)
            voice.gain.apply(tone, position)
            total += tone
        return total

    def _aim(self, wanted: AnswerSound, position: int) -> None:
        key = (wanted.hz, wanted.octave)
        on = wanted.on and HZ_RANGE[0] <= wanted.hz <= HZ_RANGE[1]  # False for what is no number
        if on and all(voice.key != key for voice in self._voices):
            self._voices.append(_voice(wanted, self._rate, position))
        level = gain_of(min(wanted.level_db, 0.0) + HEADROOM_DB)
        for voice in self._voices:
            sounds = on and voice.key == key
            seconds = RISE_SECONDS if sounds else FALL_SECONDS
            voice.gain.aim(level if sounds else 0.0, position, round(seconds * self._rate))

    @staticmethod
    def _tone(voice: _Voice, position: int, count: int) -> Samples:
        # A product, never a running sum, so that no error of the phase grows with time.
        now = np.exp(2j * np.pi * ((voice.turns * (position - voice.origin)) % 1.0)).astype(np.complex64)
        tone: Samples = ((voice.levels * now) @ voice.table[:, :count]).real.astype(np.float32)
        return tone
