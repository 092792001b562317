"""Harmonic tones by matrix product: sixteen partials of many tones cost two small tables and one multiplication.

A partial at `f` is the real part of `c * exp(2j pi f n / rate)`. With n = 32 j + r that is
`(c * exp(2j pi f 32 j / rate)) * exp(2j pi f r / rate)`: a column of 16 coarse steps times a row of 32 fine steps. The
sum over all partials of all tones is one real matrix product, (16, 2 P) by (2 P, 32), for 512 samples. The tables hold
48 numbers a partial instead of 512, so that a new pitch costs a block next to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from firmware.sound.timbre import PARTIALS

FINE: Final = 32
"""Samples of one row."""

COARSE: Final = 16
"""Rows of one chunk."""

CHUNK: Final = FINE * COARSE
"""Most samples that are made at once."""

ALONE: Final = 2**17
"""Most multiplications in one product."""

Complexes = NDArray[np.complex128]

Anyplex = TypeVar("Anyplex", NDArray[np.complex64], NDArray[np.complex128])


def powers(base: Anyplex, count: int) -> Anyplex:
    """First `count` powers of unit phasors, shape (..., count), by doubling, in the precision of `base`."""
    result = np.empty((*base.shape, count), dtype=base.dtype)
    result[..., 0] = base
    done = 1
    while done < count:
        more = min(done, count - done)
        np.multiply(result[..., :more], result[..., done - 1 : done], out=result[..., done : done + more])
        done += more
    return result


@dataclass(frozen=True, slots=True)
class Tables:
    """Phasor tables of some tones.

    Parameters
    ----------
    fine : array of shape (tones, 32, 32), float32
        Rows 2k and 2k+1 hold cosine and minus sine of partial k+1 over 32 samples.
    coarse : array of shape (tones, 16, 16), complex64
        Phasor of each partial (last axis) at the start of each row of 32 samples.
    """

    fine: NDArray[np.float32]
    coarse: NDArray[np.complex64]

    @classmethod
    def of(cls, hz: NDArray[np.float64], rate: int) -> Tables:
        """Tables of tones of these frequencies, shape (tones,)."""
        partials = powers(np.exp(2j * np.pi * hz / rate), PARTIALS)
        steps = powers(partials.astype(np.complex64), FINE - 1)
        fine = np.empty((len(hz), PARTIALS, 2, FINE), dtype=np.float32)
        fine[:, :, 0, 0], fine[:, :, 1, 0] = 1.0, 0.0
        fine[:, :, 0, 1:] = steps.real
        np.negative(steps.imag, out=fine[:, :, 1, 1:])
        coarse = np.empty((len(hz), COARSE, PARTIALS), dtype=np.complex64)
        coarse[:, 0] = 1.0
        row = partials.copy()
        for _ in range(FINE.bit_length() - 1):  # in float64: this one is raised to 15 more powers
            row *= row
        coarse[:, 1:] = np.swapaxes(powers(row.astype(np.complex64), COARSE - 1), 1, 2)
        return cls(fine.reshape(len(hz), 2 * PARTIALS, FINE), coarse)

    def kept(self, which: NDArray[np.intp]) -> Tables:
        """Tables of some of the tones."""
        return Tables(self.fine[which], self.coarse[which])

    def joined(self, other: Tables) -> Tables:
        """These tones and then the others."""
        return Tables(np.concatenate([self.fine, other.fine]), np.concatenate([self.coarse, other.coarse]))


def product(left: NDArray[np.float32], right: NDArray[np.float32]) -> NDArray[np.float32]:
    """Matrix product on the calling thread alone.

    OpenBLAS wakes other threads for a product of more than 2^18 multiplications (interface/gemm.c,
    GEMM_MULTITHREAD_THRESHOLD), and a sound callback that waits for threads is late as soon as the machine is busy:
    measured 0.05 ms a block in pieces, up to 96 ms whole. So the sum is done in pieces of at most 2^17.

    Parameters
    ----------
    left, right : arrays of shape (m, k) and (k, n)
        Factors.

    Returns
    -------
    array of shape (m, n)
    """
    step = max(1, ALONE // (left.shape[0] * right.shape[1]))
    total: NDArray[np.float32] = left[:, :step] @ right[:step]
    for begin in range(step, left.shape[1], step):
        total += left[:, begin : begin + step] @ right[begin : begin + step]
    return total


def start_phasors(cycles: NDArray[np.float64]) -> Complexes:
    """Phasors of all partials of tones whose fundamentals stand at `cycles`, shape (tones, 16).

    The whole cycles are dropped before anything is multiplied, so that hours of sounding lose no precision.
    """
    return powers(np.exp(2j * np.pi * (cycles - np.floor(cycles))), PARTIALS)


def rows_for(count: int) -> int:
    """Rows of 32 samples that hold `count` samples."""
    return -(-count // FINE)


@dataclass(frozen=True, slots=True)
class Stack:
    """Tables of all partials of many tones, ready for one product; silent partials are left out.

    Parameters
    ----------
    places : array of shape (P,), int
        Which partials it holds, counted through all tones.
    amplitudes : array of shape (P,), complex128
        Their complex amplitudes.
    fine : array of shape (2 P, 32), float32
        As in `Tables`, over all P audible partials.
    coarse : array of shape (16, P), complex64
        As in `Tables`.
    """

    places: NDArray[np.intp]
    amplitudes: Complexes
    fine: NDArray[np.float32]
    coarse: NDArray[np.complex64]

    @classmethod
    def of(cls, tables: Tables, amplitudes: Complexes) -> Stack:
        """Stack all partials whose amplitude, shape (tones, 16), is not zero."""
        tones = len(amplitudes)
        audible = amplitudes != 0
        fine = tables.fine.reshape(tones, PARTIALS, 2 * FINE)[audible].reshape(-1, FINE)
        coarse = np.ascontiguousarray(np.swapaxes(tables.coarse, 1, 2)[audible].T)
        return cls(np.flatnonzero(audible), amplitudes[audible], fine, coarse)

    def sound(self, phasors: Complexes, count: int) -> NDArray[np.float32]:
        """Sum of all partials over `count` samples (at most 512).

        Parameters
        ----------
        phasors : array of shape (tones, 16)
            Phasor of each partial at the first sample.
        count : int
            Samples wanted.

        Returns
        -------
        array of shape (count,), float32
        """
        column = (phasors.reshape(-1)[self.places] * self.amplitudes).astype(np.complex64)
        left = np.multiply(self.coarse[: rows_for(count)], column)
        fine = self.fine if count >= FINE else self.fine[:, :count]
        return product(left.view(np.float32), fine).reshape(-1)[:count]


def each(tables: Tables, states: Complexes, count: int) -> NDArray[np.float32]:
    """Sound of every tone by itself, shape (tones, count): for tones whose gain is under way.

    `states` are phasors times amplitudes, shape (tones, 16); `tables` holds the same tones.
    """
    rows = rows_for(count)
    left = tables.coarse[:, :rows] * states.astype(np.complex64)[:, None, :]
    sound: NDArray[np.float32] = np.matmul(left.view(np.float32), tables.fine).reshape(len(states), rows * FINE)
    return sound[:, :count]
