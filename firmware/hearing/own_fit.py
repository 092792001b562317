"""Fits own lines at the microphone in a stretch of hops, and judges whether a player was on them."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.filters import Fir, Signal, whitener
from firmware.hearing.line_bank import LineBank
from firmware.hearing.lines import Phasors
from firmware.hearing.pitch import LENGTHS, read_pitch

MEMORY_HOPS: Final = 100
"""Hops that are kept: 4 s."""

LEAST_HOPS: Final = 30
"""A fit needs 1.2 s."""

AGREE: Final = 0.01
"""Energy by which the fits of both halves may differ in the middle, as a share of what is fitted: -20 dB."""

HARMONIC: Final = 0.5
"""Share of the rest that a harmonic tone must explain to be taken for a player."""


ASTRAY: Final = 6e-5
"""Share of own sound outside its lines from which it is not the steady sound any more: -42 dB."""


class Hops:
    """The last hops of the microphone with their projections on the lines."""

    def __init__(self, bank: LineBank) -> None:
        self.bank = bank
        self.indexes: deque[int] = deque(maxlen=MEMORY_HOPS)
        self.sounds: deque[Signal] = deque(maxlen=MEMORY_HOPS)
        self.projections: deque[Phasors] = deque(maxlen=MEMORY_HOPS)

    def add(self, sound: Signal, index: int) -> None:
        """Add one hop, shape (hop,)."""
        self.indexes.append(index)
        self.sounds.append(sound)
        self.projections.append(self.bank.project(sound))


def fitted(hops: Hops, first: int, rate: float) -> Phasors | None:
    """Fit the hops from index `first` on.

    Returns
    -------
    Phasors or None
        None while there are too few hops or a player is on the lines.

    Notes
    -----
    A Hann-weighted fit over T seconds rejects whatever is more than 2 / T Hz from a line. A player closer than that
    turns against the line from one half of the stretch to the other, so the fits of the halves disagree; a longer
    stretch then tells them apart.
    """
    indexes = np.array(hops.indexes)
    keep = np.flatnonzero(indexes >= first)
    if len(keep) < LEAST_HOPS:
        return None
    chosen = indexes[keep]
    projections = np.array(hops.projections)[keep]
    whole = _fit(hops.bank, projections, chosen)
    half = len(keep) // 2
    early = _fit(hops.bank, projections[:half], chosen[:half])
    late = _fit(hops.bank, projections[-half:], chosen[-half:])
    middle = int(chosen[half])
    differ = fitted_energy = 0.0
    for index in range(middle - 2, middle + 3):
        differ += float(np.sum(hops.bank.predict(early - late, index) ** 2))
        fitted_energy += float(np.sum(hops.bank.predict(whole, index) ** 2))
    if differ <= AGREE * fitted_energy:
        return whole
    rest = _rest(hops, whole, keep)
    variance = float(rest @ rest) / len(rest)
    free = 2 * len(hops.bank.omega) / (half * hops.bank.hop)
    noisy = 2 * 2 * 1.5 * free * variance * 5 * hops.bank.hop
    # Noise may explain the difference, unless what is left is a player; to listen for him is dear, so it comes last.
    return whole if differ <= AGREE * fitted_energy + noisy and not _harmonic(rest, rate) else None


def _fit(bank: LineBank, projections: NDArray[np.complex128], indexes: NDArray[np.int64]) -> Phasors:
    weights = np.hanning(len(indexes) + 2)[1:-1]
    return bank.fit(projections, indexes, weights)


def _rest(hops: Hops, phasors: Phasors, keep: NDArray[np.int64]) -> Signal:
    parts = [hops.sounds[i] - hops.bank.predict(phasors, hops.indexes[i]) for i in keep[-LEAST_HOPS:]]
    return np.concatenate(parts)


def _harmonic(rest: Signal, rate: float) -> bool:
    """Whether a player is heard in what is left, at its beginning, middle or end."""
    white = Fir(whitener()).process(rest)
    span = LENGTHS[-1]
    ends = (span + len(whitener()), (len(white) + span) // 2, len(white))
    pitches = (read_pitch(white[end - span : end], rate) for end in ends)
    return any(pitch is not None and pitch.share > HARMONIC for pitch in pitches)


def steady_since(bank: LineBank, phasors: Phasors, owns: Sequence[Signal], index: int, astray_hops: int) -> int:
    """First hop from which own sound has been these lines, clicks of fewer hops than `astray_hops` apart.

    `owns` are the last hops of own sound; the last of them has number `index`.
    """
    first, since = index + 1 - len(owns), index + 1
    for i in range(index, first - 1, -1):
        line = bank.predict(phasors, i)
        rest = owns[i - first] - line
        if float(rest @ rest) <= ASTRAY * float(line @ line):
            since = i
        elif since - i >= astray_hops:
            break
    return since
