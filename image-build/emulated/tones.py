"""Reads a recording of the box's output: which tones it holds, how exactly in tune, and whether a sample is missing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

RATE = 48_000
Signal = npt.NDArray[np.float64]


def recorded(path: Path) -> Signal:
    """Give the left channel of a WAV file, also of one whose header was never finished (QEMU was killed)."""
    data = path.read_bytes()
    # The lengths in the header are written when QEMU ends in order; the fields of the format are there at once.
    channels, rate = int.from_bytes(data[22:24], "little"), int.from_bytes(data[24:28], "little")
    assert (data[:4], rate, data[34]) == (b"RIFF", RATE, 16), path
    start = data.index(b"data") + 8
    usable = (len(data) - start) // (2 * channels) * 2 * channels
    samples = np.frombuffer(data, dtype="<i2", offset=start, count=usable // 2)
    return np.asarray(samples[::channels], dtype=np.float64) / 32768


def loud_part(sound: Signal, *, threshold: float = 1e-3, settle: float = 1.0) -> Signal:
    """Give what sounds between the first and last loud sample, without the first and last `settle` seconds."""
    loud = np.flatnonzero(np.abs(sound) > threshold)
    assert loud.size, "nothing sounds"
    return sound[loud[0] + round(settle * RATE) : loud[-1] - round(settle * RATE)]


@dataclass(frozen=True, slots=True)
class Tone:
    """One partial of a steady sound."""

    hertz: float
    level: float


def strongest(sound: Signal, count: int) -> list[Tone]:
    """Give the strongest partials, their frequencies to about 0.001 Hz for ten seconds: phase between two windows."""
    length = min(len(sound) // 2, 2**18)
    window = np.hanning(length)
    hop = length // 8
    first, second = (np.fft.rfft(window * sound[at : at + length]) for at in (0, hop))
    level = np.abs(first)
    peaks = [k for k in range(2, len(level) - 2) if level[k] == level[k - 2 : k + 3].max()]
    found = []
    for k in sorted(peaks, key=lambda k: -level[k])[:count]:
        turn = np.angle(second[k]) - np.angle(first[k])
        expected = 2 * np.pi * k * hop / length
        off = (turn - expected + np.pi) % (2 * np.pi) - np.pi
        found.append(Tone((k + off * length / (2 * np.pi * hop)) * RATE / length, float(level[k])))
    return found


def seams(sound: Signal, tones: list[Tone], *, window: float = 0.1) -> list[tuple[float, float]]:
    """Give the places, in seconds, at which the phases of the tones jump together: samples are missing or doubled.

    A lost block is only hidden if it is a whole number of periods of every tone at once. For each place also how far
    the phases are apart, in radians.
    """
    size = round(window * RATE)
    shape = np.hanning(size)
    at = np.arange(0, len(sound) - size, size // 2)
    phases = []
    for tone in tones:
        turn = np.exp(-2j * np.pi * tone.hertz / RATE * np.arange(size))
        values = np.array([np.sum(shape * turn * sound[k : k + size]) for k in at])
        phases.append(np.angle(values) - 2 * np.pi * tone.hertz / RATE * at)
    steps = np.abs((np.diff(np.array(phases), axis=1) + np.pi) % (2 * np.pi) - np.pi).max(axis=0)
    return [(float(at[k]) / RATE, float(step)) for k, step in enumerate(steps) if step > 0.1]


def cents(hertz: float, of: float) -> float:
    """How far one frequency is above another."""
    return float(1200 * np.log2(hertz / of))
