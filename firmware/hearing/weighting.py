"""The A weighting of IEC 61672-1 as a digital filter, and recursive filters on a stream of blocks."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Signal
from firmware.units import RATE, Samples

Matrix = NDArray[np.float64]
Section = tuple[float, float, float, float, float]
"""b0, b1, b2, a1, a2 of one second-order section; a0 is 1."""

LOW_POLES_HZ: Final = (20.598997, 20.598997, 107.65265, 737.86223)
HIGH_POLE_HZ: Final = 12194.217
"""Poles of the A weighting; the last is double. IEC 61672-1, annex E (from memory)."""

GAIN_DB: Final = 1.999672
"""What brings the weighting to 0 dB at 1 kHz."""

MATCHED_TO: Final = 0.42
"""Share of the rate up to which the upper poles are matched in magnitude: 20 kHz at 48 kHz."""

SPAN: Final = 128
"""Samples that are filtered by one product of matrices."""


def a_weighting_db(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """The A weighting as the standard's formula has it (IEC 61672-1, annex E), in dB, for frequencies above 0."""
    f2 = np.asarray(hz, dtype=np.float64) ** 2
    p1, _, p2, p3 = (pole**2 for pole in LOW_POLES_HZ)
    p4 = HIGH_POLE_HZ**2
    gain = p4 * f2**2 / ((f2 + p1) * np.sqrt((f2 + p2) * (f2 + p3)) * (f2 + p4))
    return np.asarray(20.0 * np.log10(gain) + GAIN_DB)


@lru_cache(maxsize=4)
def a_weighting_sections(rate: int = RATE) -> tuple[Section, ...]:
    """Three second-order sections, of gain 1 at 1 kHz.

    Notes
    -----
    The four lower poles with their zeros at 0 Hz lie so far under the rate that the bilinear transform hardly bends
    them. The double pole at 12.2 kHz does not: there the transform would lose 3 dB at 12.5 kHz and everything at 24
    kHz. Its digital poles are exp(-w / rate) (matched z-transform), and a numerator of second order is fitted so that
    the magnitude follows the analogue one up to `MATCHED_TO`: |N|^2 = r0 + 2 r1 cos w + 2 r2 cos 2w is linear in r, and
    its minimum-phase factor gives the taps.
    """
    poles = [_bilinear_pole(hz, rate) for hz in LOW_POLES_HZ]
    low = [(1.0, -2.0, 1.0, -(p + q), p * q) for p, q in ((poles[0], poles[1]), (poles[2], poles[3]))]
    sections = (*low, _upper(rate))
    angle = 2 * np.pi * 1000.0 / rate
    scale = 1.0 / abs(response(sections, np.array([angle]))[0])
    b0, b1, b2, a1, a2 = sections[0]
    return ((b0 * scale, b1 * scale, b2 * scale, a1, a2), *sections[1:])


def _bilinear_pole(hz: float, rate: int) -> float:
    half = np.pi * hz / rate
    return float((1.0 - half) / (1.0 + half))


def _upper(rate: int) -> Section:
    pole = float(np.exp(-2 * np.pi * HIGH_POLE_HZ / rate))
    angle = np.linspace(0.0, 2 * np.pi * MATCHED_TO, 200)
    denominator = np.abs(1.0 - pole * np.exp(-1j * angle)) ** 4
    wanted = denominator / (1.0 + (angle * rate / (2 * np.pi * HIGH_POLE_HZ)) ** 2) ** 2
    basis = np.stack([np.ones_like(angle), 2 * np.cos(angle), 2 * np.cos(2 * angle)], axis=1)
    r0, r1, r2 = np.linalg.lstsq(basis / wanted[:, None], np.ones_like(angle), rcond=None)[0]
    roots = np.roots([r2, r1, r0, r1, r2])
    inside = roots[np.argsort(np.abs(roots))[:2]]
    taps = np.real(np.poly(inside))
    taps = taps * (1.0 - pole) ** 2 / taps.sum()
    return (float(taps[0]), float(taps[1]), float(taps[2]), -2 * pole, pole**2)


def response(sections: tuple[Section, ...], angle: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Frequency response of sections in a row, at angles in radians per sample."""
    back = np.exp(-1j * angle)
    total = np.ones(len(angle), dtype=np.complex128)
    for b0, b1, b2, a1, a2 in sections:
        total *= (b0 + b1 * back + b2 * back**2) / (1.0 + a1 * back + a2 * back**2)
    return total


class Recursive:
    """Second-order sections in a row on a stream of blocks of any length, without a loop over samples.

    Parameters
    ----------
    sections : tuple of Section
        The filter.

    Notes
    -----
    The sections are one linear system with state s: `s' = A s + b x`, `y = c s + d x`. Over a span of samples the
    output is a triangular Toeplitz matrix times the input plus what the state adds, so that numpy does it in products
    (block filtering, Burrus 1972, "Block realization of digital filters"; from memory).
    """

    def __init__(self, sections: tuple[Section, ...]) -> None:
        a, b, c, d = _system(sections)
        order = len(b)
        self._powers = np.empty((SPAN + 1, order, order))
        self._powers[0] = np.eye(order)
        for i in range(SPAN):
            self._powers[i + 1] = self._powers[i] @ a
        self._out = np.einsum("o,iop->ip", c, self._powers[:SPAN])  # what the state adds to sample i
        self._in = np.einsum("iop,p->io", self._powers[:SPAN], b)  # what a sample i before the end adds to the state
        pulse = np.concatenate([[d], self._out[:-1] @ b])
        lag = np.subtract.outer(np.arange(SPAN), np.arange(SPAN))
        self._toeplitz: Matrix = np.where(lag >= 0, pulse[np.maximum(lag, 0)], 0.0)
        self._state = np.zeros(order)

    def process(self, block: Samples | Signal) -> Signal:
        """Filter a block, shape (n,), to the same length."""
        whole = len(block) // SPAN * SPAN
        spans = np.asarray(block[:whole], dtype=np.float64).reshape(-1, SPAN)
        out = np.empty(len(block))
        if whole:
            out[:whole] = self._spans(spans).reshape(-1)
        rest = np.asarray(block[whole:], dtype=np.float64)
        count = len(rest)
        if count:
            out[whole:] = self._toeplitz[:count, :count] @ rest + self._out[:count] @ self._state
            self._state = self._powers[count] @ self._state + rest[::-1] @ self._in[:count]
        return out

    def _spans(self, spans: Matrix) -> Matrix:
        added = spans[:, ::-1] @ self._in
        states = np.empty((len(spans), len(self._state)))
        step = self._powers[SPAN]
        for i in range(len(spans)):
            states[i] = self._state
            self._state = step @ self._state + added[i]
        result: Matrix = spans @ self._toeplitz.T + states @ self._out.T
        return result


def _system(sections: tuple[Section, ...]) -> tuple[Matrix, Signal, Signal, float]:
    """The sections as one system (A, b, c, d); each section is in transposed direct form II."""
    order = 2 * len(sections)
    a, b, c, d = np.zeros((order, order)), np.zeros(order), np.zeros(order), 1.0
    for k, (b0, b1, b2, a1, a2) in enumerate(sections):
        i = 2 * k
        feed = np.array([b1 - a1 * b0, b2 - a2 * b0])
        a[i : i + 2, :i] = np.outer(feed, c[:i])
        a[i : i + 2, i : i + 2] = [[-a1, 1.0], [-a2, 0.0]]
        b[i : i + 2] = feed * d
        c = c * b0
        c[i] = 1.0
        d *= b0
    return a, b, c, d


def a_weighting(rate: int = RATE) -> Recursive:
    """A fresh A-weighting filter for a stream."""
    return Recursive(a_weighting_sections(rate))
