"""The tones that sound now, as rows of arrays: pitch, phase, partials, gain and tables of each."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.sound.phasors import Stack, Tables, each, start_phasors
from firmware.sound.ramp import Floats, Ramps
from firmware.sound.timbre import PARTIALS, Timbre
from firmware.sound.timbres import TIMBRES
from firmware.units import Samples

SAME_PITCH: Final = 1e-12
"""Relative difference below which two frequencies are one: a rounding error, a billionth of a cent."""


def spread_cycles(hz: Floats) -> Floats:
    """Phase of a partial in cycles, by its frequency alone: partials that coincide add up, yet peaks don't pile up.

    The phase of a filter that passes all frequencies and delays high ones more, up to 27 ms at 9 kHz. By trial over
    chords of two octaves it lowers peaks by 5 to 8 dB against partials that all start together.
    """
    return np.asarray(-0.006 * hz * np.log1p(hz / 100.0))


def kind_of(timbre: Timbre) -> int:
    """Place of a timbre in the table."""
    return TIMBRES.index(timbre)


class Voices:
    """Tones that sound now, those that leave included.

    Each stands at `cycle + hz * (position - origin) / rate` cycles: a product, never a running sum, so that no error
    grows with time.
    """

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.hz = np.zeros(0)
        self.kind = np.zeros(0, dtype=np.int64)
        self.cycle = np.zeros(0)
        self.origin = np.zeros(0, dtype=np.int64)
        self.partials = np.zeros((0, PARTIALS), dtype=np.complex128)
        self.gains = Ramps(np.zeros(0))
        self.tables = Tables.of(self.hz, rate)
        self._stack: tuple[NDArray[np.bool_], Stack] | None = None

    def __len__(self) -> int:
        return len(self.hz)

    def cycles(self, position: int) -> Floats:
        """Phase of each fundamental in cycles, shape (voices,)."""
        return np.asarray(self.cycle + self.hz * (position - self.origin) / self.rate)

    def find(self, hz: Floats, timbre: Timbre) -> NDArray[np.int64]:
        """Numbers of the voices of these pitches and this timbre, -1 where there is none."""
        if not len(self):
            return np.full(len(hz), -1)
        distance = np.abs(self.hz[None, :] / hz[:, None] - 1.0) + np.where(self.kind == kind_of(timbre), 0.0, 1.0)
        nearest = np.argmin(distance, axis=1)
        return np.where(distance[np.arange(len(hz)), nearest] <= SAME_PITCH, nearest, -1)

    def add(self, hz: Floats, timbre: Timbre, phase: tuple[Floats, NDArray[np.int64]]) -> None:
        """Add silent voices; `phase` holds their cycles and the samples at which these hold."""
        partial_hz = hz[:, None] * np.arange(1, PARTIALS + 1)
        partials = timbre.amplitudes(hz, self.rate) * np.exp(2j * np.pi * spread_cycles(partial_hz))
        self.kind = np.concatenate([self.kind, np.full(len(hz), kind_of(timbre))])
        self.hz = np.concatenate([self.hz, hz])
        self.cycle = np.concatenate([self.cycle, phase[0]])
        self.origin = np.concatenate([self.origin, phase[1]])
        self.partials = np.concatenate([self.partials, partials])
        self.gains.extend(np.zeros(len(hz)))
        self.tables = self.tables.joined(Tables.of(hz, self.rate))
        self._stack = None

    def drop_silent(self, position: int) -> None:
        """Forget voices that have gone."""
        gone = (self.gains.target == 0.0) & ~self.gains.moving(position)
        if not gone.any():
            return
        stay = np.flatnonzero(~gone)
        self.hz, self.kind, self.partials = self.hz[stay], self.kind[stay], self.partials[stay]
        self.cycle, self.origin = self.cycle[stay], self.origin[stay]
        self.gains.keep(stay)
        self.tables = self.tables.kept(stay)
        self._stack = None

    def sound(self, position: int, count: int) -> Samples:
        """All voices over `count` samples (at most 512) from `position` on."""
        phasors = start_phasors(self.cycles(position))
        moving = self.gains.moving(position)
        result = self._steady(moving).sound(phasors, count)
        if moving.any():
            which = np.flatnonzero(moving)
            tones = each(self.tables.kept(which), phasors[which] * self.partials[which], count)
            result += self.gains.mixed(tones, which, position)
        return result

    def _steady(self, moving: NDArray[np.bool_]) -> Stack:
        """The stack of all voices whose gain rests, built anew only when these change."""
        if self._stack is None or not np.array_equal(self._stack[0], moving):
            gains = np.where(moving, 0.0, self.gains.target)
            self._stack = (moving, Stack.of(self.tables, self.partials * gains[:, None]))
        return self._stack[1]
