"""Predicts all own sound at the microphone, whatever it is, from what the room check has learned."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal
from firmware.hearing.own_clock import AHEAD
from firmware.hearing.room import Room
from firmware.hearing.room_clock import on_other_clock

EARLY: Final = 300
"""Samples of the slow stream before the direct sound that hold the ringing of low octaves and are worth keeping."""

SLOW_PPM: Final = -0.5
"""With a microphone's clock slower than this, sound comes earlier and earlier; room is then left for that."""

FLAT_HZ: Final = 5500.0
"""Below this the slow stream is predicted whole; above, the decimators let nothing pass that is read."""

TABLE_HZ: Final = np.geomspace(37.0, 5500.0, 120)
SMOOTHED: Final = 7
"""Places of the table over which the room's gain is averaged: two fifths of an octave."""


def slow_response(room: Room, factor: int) -> Signal:
    """The room's impulse response on the microphone's clock, from time 0 on, for own sound at a lower rate."""
    # On a fast microphone's clock the room answers more slowly: 0.1 ms at the end of the tail for 100 ppm.
    causal = on_other_clock(room.impulse[room.lead :], -room.clock_ppm)
    size = -(-len(causal) // factor)
    whole = np.zeros(size * factor)
    whole[: len(causal)] = causal
    bins = np.fft.rfft(whole)[: size // 2 + 1]
    hz = np.arange(len(bins)) * room.rate / len(whole)
    top = room.rate / factor / 2
    fall = np.clip((top - hz) / (top - FLAT_HZ), 0.0, 1.0)
    # 1 / factor for the shorter transform and factor for the longer samples cancel.
    slow: Signal = np.fft.irfft(bins * (0.5 - 0.5 * np.cos(np.pi * fall)), size)
    return slow


class RoomPath:
    """Convolves own sound with the room's response, hop by hop.

    Parameters
    ----------
    room : Room
        What was learned.
    factor : int
        Rate of the room over that of the slow stream.
    hop : int
        Samples that come at a time.

    Attributes
    ----------
    late : int
        Samples by which own sound must come late, so that it may be read between samples; they are taken off the
        response.
    hops : int
        How many hops of own sound still matter.

    Notes
    -----
    Uniformly partitioned overlap-save convolution (sectioned convolution after Stockham 1966, from memory).
    """

    def __init__(self, room: Room, factor: int, hop: int) -> None:
        slow = slow_response(room, factor)
        early = round(room.delay / factor) - EARLY
        self.late = AHEAD if room.clock_ppm > SLOW_PPM else max(AHEAD, early)
        taps = slow[self.late :]
        self.hops = -(-len(taps) // hop)
        parts = np.zeros((self.hops, hop))
        parts.reshape(-1)[: len(taps)] = taps
        self._hop = hop
        self._parts: NDArray[np.complex128] = np.fft.rfft(parts, 2 * hop, axis=1)
        self._played: NDArray[np.complex128] = np.zeros((self.hops, hop + 1), np.complex128)
        self._before: Signal = np.zeros(hop)
        self._place = 0
        self._silent = self.hops + 1
        self._gains, self._leaks = _tables(room)

    def process(self, own: Signal) -> Signal:
        """Predict one hop of the microphone from own sound of the same hop, both shape (hop,)."""
        self._silent = 0 if own.any() else self._silent + 1
        if self._silent > self.hops:
            return np.zeros(self._hop)
        self._place = (self._place - 1) % self.hops
        self._played[self._place] = np.fft.rfft(np.concatenate([self._before, own]))
        self._before = own
        split = self.hops - self._place
        total = (self._parts[:split] * self._played[self._place :]).sum(axis=0)
        total += (self._parts[split:] * self._played[: self._place]).sum(axis=0)
        predicted: Signal = np.fft.irfft(total)[self._hop :]
        return predicted

    def gain_at(self, hz: NDArray[np.float64]) -> NDArray[np.float64]:
        """Power gain from own sound to the microphone, smoothed over frequency, shape like `hz`."""
        return np.asarray(np.interp(np.log(np.maximum(hz, 1.0)), np.log(TABLE_HZ), self._gains))

    def leak_at(self, hz: NDArray[np.float64]) -> NDArray[np.float64]:
        """Share of the power of own sound at the microphone that is expected to be left, shape like `hz`."""
        return np.asarray(np.interp(np.log(np.maximum(hz, 1.0)), np.log(TABLE_HZ), self._leaks))


def _tables(room: Room) -> tuple[Signal, Signal]:
    """Gain and leak of the room at the frequencies of the table."""
    power = np.abs(room.response_at(TABLE_HZ)) ** 2
    weights = np.hanning(SMOOTHED + 2)
    gains: Signal = np.convolve(power, weights, "same") / np.convolve(np.ones(len(power)), weights, "same")
    # What the loudspeaker distorts is own sound too, and no convolution brings it.
    bent = 10.0 ** (room.distortion_db / 10)
    leaks: Signal = room.error_at(TABLE_HZ) ** 2 / np.maximum(gains, 1e-20) + bent
    return gains, np.minimum(leaks, 1.0)
