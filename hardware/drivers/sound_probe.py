"""Plays the tone and the test sound of the self-test through a sound card, and records the microphone meanwhile."""

from __future__ import annotations

import threading
from typing import Final

import numpy as np

from firmware.ports import SoundCard
from firmware.selftest.signals import SoundRecorded
from firmware.selftest.sound_figures import TONE_HZ, played
from firmware.units import RATE, Samples, gain_of

TONE_DB: Final = -24.0
"""Level of the tone by which the PA is turned up."""

SILENT, TONE, RECORD = "silent", "tone", "record"


class SoundProbe:
    """A sound card that does what the self-test asks for.

    Parameters
    ----------
    card : SoundCard
        Is started by `start`, which raises DeviceError without one.
    """

    def __init__(self, card: SoundCard) -> None:
        self._card = card
        self._lock = threading.Lock()
        self._doing = SILENT
        self._phase = 0
        self._at = 0
        self._heard: list[Samples] = []
        self._lost = 0

    def start(self) -> None:
        """Open the card and play nothing; raises DeviceError."""
        self._card.start(self.process)

    def stop(self) -> None:
        """Let the card go."""
        self._card.stop()

    def tone(self, *, on: bool) -> None:
        """Begin or end the tone."""
        with self._lock:
            self._doing = TONE if on else SILENT

    def record(self) -> None:
        """Begin to play the test sound and to record."""
        with self._lock:
            self._doing, self._at, self._heard = RECORD, 0, []
            self._lost = self._card.lost

    def recorded(self, at: int) -> SoundRecorded | None:
        """What was recorded, once it is whole; None before."""
        with self._lock:
            if self._doing != SILENT or not self._heard:
                return None
            heard, self._heard = self._heard, []
        own = played()
        mic = np.concatenate(heard)[: len(own)]
        return SoundRecorded(at, mic, own, self._card.lost - self._lost)

    def process(self, mic: Samples) -> Samples:
        """Give the next block, and keep what the microphone heard meanwhile; called by the card."""
        with self._lock:
            if self._doing == TONE:
                return self._tone_block(len(mic))
            if self._doing == RECORD:
                return self._record_block(mic)
        return np.zeros(len(mic), np.float32)

    def _tone_block(self, count: int) -> Samples:
        places = self._phase + np.arange(count)
        self._phase = (self._phase + count) % RATE  # the tone has whole cycles in a second
        return np.asarray(gain_of(TONE_DB) * np.sin(2 * np.pi * TONE_HZ * places / RATE), dtype=np.float32)

    def _record_block(self, mic: Samples) -> Samples:
        own = played()
        block = np.zeros(len(mic), np.float32)
        left = own[self._at : self._at + len(mic)]
        block[: len(left)] = left
        self._heard.append(mic.copy())
        self._at += len(mic)
        if self._at >= len(own):
            self._doing = SILENT
        return block
