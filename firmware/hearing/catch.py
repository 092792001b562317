"""Catches the key from the room: the tonic from one long note, tonic and mode from a few bars of playing."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.heard_events import Heard, PartialsHeard
from firmware.hearing.catch_profiles import AARDEN_ESSEN, Chroma, fits
from firmware.music.keys import Key, usual_tonic
from firmware.music.modes import Mode, mode_named
from firmware.units import RATE, cents_of, samples_of

A_CLASS: Final = 9
"""Semitones from C up to A."""

RECENT: Final = samples_of(1.5)
"""One long note is looked for in this many samples before the press."""

LATE: Final = samples_of(0.5)
"""Readings lag behind, and the press is a key held for half a second: what sounded when it went down still counts."""

LEAST_READINGS: Final = 7
"""Readings of one tone that make it a note: 0.28 s."""

LONG_SHARE: Final = 0.6
"""Share of the recent readings that must be of one tone for it to be the long note."""

QUIET: Final = ("silence", "own sound")
"""Readings of nothing that say nothing against a note; "noise" does: several players sound."""

LEAST_SECONDS: Final = 3.0
"""A key is told from so many seconds of playing."""

LONGEST: Final = samples_of(45.0)
PAUSE: Final = samples_of(2.0)
"""What is played after a silence of this length is a new passage."""

FORGOTTEN: Final = samples_of(10.0)
"""A passage that ended so long ago is not what the director means."""

PARTIAL_OF: Final = (3, 5, 6, 7)
NEAR_CENTS: Final = 40.0
SHADE: Final = 0.1
"""What a partial counts that may be the third, fifth, sixth or seventh of one below it."""

BEGINNING: Final = samples_of(0.5)
BEGINS_ON_TONIC: Final = 0.2
"""What the bass at the beginning of the passage is worth, in units of correlation: music mostly begins on the tonic."""

STEEPNESS: Final = 14.0
"""Turns scores into confidence, so that of keys told with 80 % about four in five are right."""


@dataclass(frozen=True, slots=True)
class Frame:
    """What sounded at a moment: amount of each pitch class, and the class of the lowest tone."""

    at: int
    chroma: tuple[float, ...]
    bass: int


@dataclass(frozen=True, slots=True)
class CatchState:
    """The last readings of one player, and the passage since the last pause."""

    readings: tuple[Heard, ...] = ()
    frames: tuple[Frame, ...] = ()
    heard_at: int = 0


@dataclass(frozen=True, slots=True)
class Caught:
    """A key, how sure it is (0 to 1), and the second guess."""

    key: Key
    confidence: float
    second: Key
    second_confidence: float


def hear_note(state: CatchState, event: Heard) -> CatchState:
    """Take in a reading of one player."""
    kept = tuple(one for one in state.readings if event.at - one.at < RECENT)
    return replace(state, readings=(*kept, event))


def hear_partials(state: CatchState, event: PartialsHeard, a4: float) -> CatchState:
    """Take in what sounds."""
    if not event.partials:
        return state
    frame = frame_of(event, a4)
    frames = state.frames if event.at - state.heard_at <= PAUSE else ()
    if frames and event.at - frames[0].at > LONGEST:
        # The beginning is kept: its bass is a sign of its own.
        begun = [one for one in frames if one.at - frames[0].at < BEGINNING]
        frames = (*begun, *frames[len(begun) + 1 :])
    return replace(state, frames=(*frames, frame), heard_at=event.at)


def frame_of(event: PartialsHeard, a4: float) -> Frame:
    """Fold partials into pitch classes; one that may belong to a tone below counts little."""
    chroma = [0.0] * 12
    lower: list[float] = []
    for hz, level_db in event.partials:
        shade = SHADE if any(_is_partial(hz, low) for low in lower) else 1.0
        chroma[class_of(hz, a4)] += shade * 10 ** (level_db / 40)
        lower.append(hz)
    total = sum(chroma)
    return Frame(event.at, tuple(value / total for value in chroma), class_of(event.partials[0][0], a4))


def class_of(hz: float, a4: float) -> int:
    """Nearest pitch class of equal temperament, 0 for C."""
    return (round(cents_of(hz / a4) / 100) + A_CLASS) % 12


def _is_partial(hz: float, low: float) -> bool:
    number = round(hz / low)
    return number in PARTIAL_OF and abs(cents_of(hz / (number * low))) < NEAR_CENTS


def catch(state: CatchState, at: int, mode: Mode, a4: float) -> Caught | None:
    """Tell the key from what was heard until now.

    Parameters
    ----------
    state : CatchState
        What was heard.
    at : int
        Sample count of the press.
    mode : Mode
        The mode of the moment; a tonic caught from one note keeps it.
    a4 : float
        Reference for A4 in Hz.

    Returns
    -------
    Caught or None
        None when there was neither a long note nor enough playing.
    """
    readings = tuple(one for one in state.readings if at - one.at < RECENT + LATE)
    frames = state.frames if at - state.heard_at < FORGOTTEN else ()
    return catch_note(readings, mode, a4) or catch_key(frames)


def catch_note(readings: tuple[Heard, ...], mode: Mode, a4: float) -> Caught | None:
    """Tonic from one long note; the second guess is the semitone on the side to which the note leans."""
    readings = tuple(one for one in readings if one.why not in QUIET)
    heard = [(one, one.hz) for one in readings if one.hz is not None]
    classes = Counter(class_of(hz, a4) for _, hz in heard)
    if not classes:
        return None
    tonic, count = classes.most_common(1)[0]
    if count < LEAST_READINGS or count < LONG_SHARE * len(readings):
        return None
    chosen = [(one, hz) for one, hz in heard if class_of(hz, a4) == tonic]
    lean = float(np.median([math.remainder(cents_of(hz / a4), 100.0) for _, hz in chosen]))
    clear = float(np.mean([one.confidence for one, _ in chosen])) * count / len(readings)
    sure = clear * (1 - abs(lean) / 100)
    beside = (tonic + (1 if lean >= 0 else -1)) % 12
    keys = [Key(usual_tonic(semitones, mode), mode) for semitones in (tonic, beside)]
    return Caught(keys[0], sure, keys[1], clear * abs(lean) / 100)


def catch_key(frames: tuple[Frame, ...]) -> Caught | None:
    """Tonic and mode, major or minor, from a passage.

    Notes
    -----
    The chroma over the passage is correlated with the profiles of Aarden, which do better on chorales and songs than
    those of Krumhansl and Kessler; the bass of the beginning adds to its own tonic.
    """
    if not frames or frames[-1].at - frames[0].at < LEAST_SECONDS * RATE:
        return None
    scores = scores_of(frames)
    chances = np.exp(STEEPNESS * (scores - scores.max()))
    chances /= chances.sum()
    order = np.argsort(chances, axis=None)[::-1]
    best, second = (np.unravel_index(place, chances.shape) for place in order[:2])
    return Caught(_key(best), float(chances[best]), _key(second), float(chances[second]))


def scores_of(frames: tuple[Frame, ...]) -> NDArray[np.float64]:
    """Fit of every key, shape (12, 2): tonics from C up, major and minor."""
    chroma: Chroma = np.array([frame.chroma for frame in frames]).sum(axis=0)
    scores = fits(chroma, AARDEN_ESSEN)
    basses = [frame.bass for frame in frames if frame.at - frames[0].at < BEGINNING]
    for bass in basses:
        scores[bass] += BEGINS_ON_TONIC / len(basses)
    return scores


def _key(place: tuple[np.intp, ...]) -> Key:
    mode = mode_named("major" if place[1] == 0 else "minor")
    return Key(usual_tonic(int(place[0]), mode), mode)
