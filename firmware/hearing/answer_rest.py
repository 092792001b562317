"""What is left when the lines of our own answers are out, and which notes are heard in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.hearing.answer_lines import without_lines
from firmware.hearing.answer_partials import Looks
from firmware.hearing.answer_presence import OVER_ANSWER, floor, latest
from firmware.hearing.filters import Signal
from firmware.hearing.pitch import LENGTHS, Pitch, read_pitch
from firmware.units import cents_of

LENGTH: Final = LENGTHS[1]
"""Samples of the window that is looked at."""

LEAST_FREE_SHARE: Final = 0.35
"""What is on the free partials of a note that is believed by them alone is so much of what is left."""

LEAST_SHARE: Final = 0.6
SAME_CENTS: Final = 70.0
"""A reading this close to the note that is followed is that note."""

LEAST_READ: Final = 10 ** (-15 / 10)
"""A reading must be so strong against what was taken out on our lines, which the fit always takes further down."""

QUIETEST: Final = 10 ** (-66 / 10)
"""Under this mean square there is silence."""

NOTCH_TURNS: Final = 1.0
"""A partial that is less than this many turns a window off a line is taken out with it."""

FIFTH: Final = 5
PRESENT: Final = 0.001
"""A partial with this share of the power (-30 dB) is there."""


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """The last window without our lines.

    `bright` is whitened, shape (n,); `left` the mean square of what is left, `taken` that of what was taken; `lines`
    are those lines in Hz.
    """

    bright: Signal
    left: float
    taken: float
    lines: Signal


def rest_of(plain: Signal, bright: Signal, lines: Signal, rate: float) -> Rest:
    """Take lines out of the end of a stretch of sound, given as it is and whitened, both shape (n,)."""
    plain = plain[-LENGTH:]
    left = without_lines(plain, lines, rate)
    power = float(left @ left) / LENGTH
    return Rest(
        without_lines(bright[-LENGTH:], lines, rate), power, max(float(plain @ plain) / LENGTH - power, 0.0), lines
    )


def read_rest(rest: Rest, removed: float, rate: float, hint: float | None) -> Pitch | None:
    """Read a pitch in what is left; `removed` is the mean square of other sound of ours that was taken out before."""
    if rest.left < max(QUIETEST, LEAST_READ * (rest.taken + removed)):
        return None
    padded = np.concatenate([np.zeros(LENGTHS[-1] - len(rest.bright)), rest.bright])
    pitch = read_pitch(padded, rate, hint, longest=len(rest.bright))
    return pitch if pitch is not None and pitch.share >= LEAST_SHARE and _single(pitch, rest.lines, rate) else None


def clear(looks: Looks, rest: Rest) -> bool:
    """Whether free partials stand out of noise and of what the fit of our lines may leave."""
    return latest(looks) > max(floor(looks), OVER_ANSWER * rest.taken, QUIETEST)


def believed(looks: Looks, rest: Rest) -> tuple[float, float] | None:
    """Pitch and share of what is on free partials, when that is most of what is left without our lines."""
    share = latest(looks) / max(rest.left, latest(looks), 1e-30)
    return (looks.hz, share) if looks.hz is not None and share >= LEAST_FREE_SHARE and clear(looks, rest) else None


def same(hz: float, other: float) -> bool:
    """Whether two pitches are one note."""
    return abs(cents_of(hz / other)) < SAME_CENTS


def _single(pitch: Pitch, lines: Signal, rate: float) -> bool:
    """Whether the low partials are those of one tone; those that were taken out with our lines are believed."""
    there: NDArray[np.bool_] = pitch.power > PRESENT * float(np.maximum(pitch.power, 0.0).sum())
    if len(lines):
        hz = pitch.hz * np.arange(1.0, len(there) + 1)
        there |= np.abs(hz[:, None] - lines).min(axis=1) < NOTCH_TURNS * rate / LENGTH
    return bool(there[0]) or (len(there) >= FIFTH and bool(there[1] and there[2] and there[FIFTH - 1]))
