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

WINDOW: Final = 4
"""Hops of the ear's longest window."""

SPREAD: Final = 1.15
LEAST_BINS: Final = 2
"""The energy of the room's answer is averaged from a frequency over this to it times this: fades are elsewhere when
somebody has moved the microphone."""


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
        self._powers: NDArray[np.float64] = np.zeros((self.hops, hop + 1))
        self._energies = _energies(self._parts)
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
        played = self._played[self._place] = np.fft.rfft(np.concatenate([self._before, own]))
        # A Hann window, as three taps over the bins.
        soft = 2.0 * played[1:-1] - played[:-2] - played[2:]
        self._powers[self._place, 1:-1] = soft.real**2 + soft.imag**2
        self._before = own
        split = self.hops - self._place
        total = (self._parts[:split] * self._played[self._place :]).sum(axis=0)
        total += (self._parts[split:] * self._played[: self._place]).sum(axis=0)
        predicted: Signal = np.fft.irfft(total)[self._hop :]
        return predicted

    def usual(self, hz: NDArray[np.float64], width: float, rate: float) -> NDArray[np.float64]:
        """Mean square of own sound that a room like this has within `width` Hz of each frequency, shape like `hz`.

        Energies are added up, not sounds, and the room's are averaged over a quarter of an octave: so it holds for any
        place in the room, in which the fades of this one may be as loud as what lies beside them. The mean is over
        the ear's longest window.
        """
        split = self.hops - self._place
        power = (self._energies[:split] * self._powers[self._place :]).sum(axis=0)
        power += (self._energies[split:] * self._powers[: self._place]).sum(axis=0)
        # Parseval for the window of 2 hops, whose mean square is 3 / 8, with taps four times as strong as Hann's.
        sums = np.concatenate([[0.0], np.cumsum(power)]) * 2.0 / (16.0 * (2 * self._hop) ** 2 * 3 / 8)
        bin_hz = rate / (2 * self._hop)
        low = np.clip(np.floor(hz / bin_hz - width / bin_hz - 2.0).astype(int), 0, len(power))
        high = np.clip(np.ceil(hz / bin_hz + width / bin_hz + 2.0).astype(int) + 1, 0, len(power))
        return np.asarray(sums[high] - sums[low])

    def gain_at(self, hz: NDArray[np.float64]) -> NDArray[np.float64]:
        """Power gain from own sound to the microphone, smoothed over frequency, shape like `hz`."""
        return np.asarray(np.interp(np.log(np.maximum(hz, 1.0)), np.log(TABLE_HZ), self._gains))

    def leak_at(self, hz: NDArray[np.float64]) -> NDArray[np.float64]:
        """Share of the power of own sound at the microphone that is expected to be left, shape like `hz`."""
        return np.asarray(np.interp(np.log(np.maximum(hz, 1.0)), np.log(TABLE_HZ), self._leaks))


def _energies(parts: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Energy of each part of the room's answer, averaged over frequency and the ear's window, shape like `parts`."""
    sums = np.cumsum(np.abs(parts) ** 2, axis=1)
    sums = np.concatenate([np.zeros((len(parts), 1)), sums], axis=1)
    bins = np.arange(parts.shape[1])
    low = np.minimum(np.floor(bins / SPREAD), bins - LEAST_BINS).astype(int)
    high = np.maximum(np.ceil(bins * SPREAD), bins + LEAST_BINS).astype(int) + 1
    low, high = np.clip(low, 0, None), np.clip(high, None, parts.shape[1])
    energy = (sums[:, high] - sums[:, low]) / (high - low)
    over = np.concatenate([np.zeros((1, len(bins))), np.cumsum(energy, axis=0)])
    ages = np.arange(1, len(parts) + 1)
    return np.asarray((over[ages] - over[np.maximum(ages - WINDOW, 0)]) / WINDOW)


def _tables(room: Room) -> tuple[Signal, Signal]:
    """Gain and leak of the room at the frequencies of the table."""
    power = np.abs(room.response_at(TABLE_HZ)) ** 2
    weights = np.hanning(SMOOTHED + 2)
    gains: Signal = np.convolve(power, weights, "same") / np.convolve(np.ones(len(power)), weights, "same")
    # What the loudspeaker distorts is own sound too, and no convolution brings it.
    bent = 10.0 ** (room.distortion_db / 10)
    leaks: Signal = room.error_at(TABLE_HZ) ** 2 / np.maximum(gains, 1e-20) + bent
    return gains, np.minimum(leaks, 1.0)
