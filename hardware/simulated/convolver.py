"""Long impulse responses on a stream of blocks, cheap enough to run all the time."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.units import Samples

Responses = NDArray[np.float32]

TAIL_BLOCKS: Final = 8
"""Blocks that are worked on at once in the later part of a response."""


class Convolver:
    """Convolves several inputs, each with a response of its own, and adds them up, block by block, without delay.

    The first eight blocks of a response are convolved block by block, the rest in sections of eight blocks: those
    samples are late enough to wait until a section is full.

    Parameters
    ----------
    responses : array, shape (inputs, taps)
        Impulse responses.
    block : int
        Samples in each block.
    """

    def __init__(self, responses: Responses, block: int) -> None:
        inputs, taps = responses.shape
        long = TAIL_BLOCKS * block
        self.block = block
        self._head = _Stage(responses[:, :long], block)
        self._tail = _Stage(responses[:, long:], long) if taps > long else None
        self._waiting = np.zeros((inputs, long), np.float32)
        self._ready = np.zeros(long, np.float32)
        self._filled = 0

    def process(self, blocks: Samples) -> Samples:
        """Convolve the next block of each input, shape (inputs, block); the sum, shape (block,)."""
        out = self._head.process(blocks)
        if self._tail is None:
            return out
        here = slice(self._filled, self._filled + self.block)
        out += self._ready[here]
        self._waiting[:, here] = blocks
        self._filled += self.block
        if self._filled == self._waiting.shape[1]:
            self._ready = self._tail.process(self._waiting)
            self._filled = 0
        return out


class _Stage:
    """Uniformly partitioned overlap-save convolution with one size of block.

    Method: sectioned convolution after Stockham 1966 (from memory); partitions of equal size are common practice.
    """

    def __init__(self, responses: Responses, block: int) -> None:
        inputs, taps = responses.shape
        self._block = block
        self._parts = -(-taps // block)
        padded = np.zeros((inputs, self._parts * block), np.float32)
        padded[:, :taps] = responses
        sections = padded.reshape(inputs, self._parts, block)
        self._response = np.fft.rfft(sections, 2 * block, axis=2).astype(np.complex64)
        # twice as long as need be, so that the latest spectra, newest first, always lie in one piece
        self._history = np.zeros((inputs, 2 * self._parts, block + 1), np.complex64)
        self._frame = np.zeros((inputs, 2 * block), np.float32)
        self._place = 0

    def process(self, blocks: Samples) -> Samples:
        self._frame[:, : self._block] = self._frame[:, self._block :]
        self._frame[:, self._block :] = blocks
        spectra = np.fft.rfft(self._frame, axis=1).astype(np.complex64)
        self._place = (self._place - 1) % self._parts
        self._history[:, self._place] = spectra
        self._history[:, self._place + self._parts] = spectra
        recent = self._history[:, self._place : self._place + self._parts]
        total = np.einsum("ipf,ipf->f", self._response, recent)
        return np.fft.irfft(total, 2 * self._block)[self._block :].astype(np.float32)
