"""Pitch of one player in a stretch of whitened sound: candidates, octave test, exact frequency."""

from __future__ import annotations

import math
from typing import Final

from firmware.hearing.filters import Signal
from firmware.hearing.harmonic import Fit, Window
from firmware.hearing.pitch_octaves import CHANGING, CLEAR_SHARE, clearer, has_all, single, supported
from firmware.hearing.pitch_spectrum import PARTIAL_COST, Spectrum, candidates_of, partials_of
from firmware.hearing.pitch_windows import (
    LENGTHS,
    SMEARED_SHARE,
    SWING,
    Pitch,
    Stretch,
    read_moving,
    read_near,
    summit,
)

__all__ = ["LENGTHS", "Pitch", "read_pitch", "single"]

SEARCH_TOP_HZ: Final = 2_000.0
"""Candidates are compared under this, all in the same band; a vibrato leaves the partials there whole."""

SAME_SHARE: Final = 0.6
"""Share from which a pitch that carries on needs no search."""

RESCUED_SHARE: Final = 0.9
"""With less than this explained, in less than the whole stretch, a lower pitch that moves may be the true one."""


def worth(fit: Fit, window: Window) -> float:
    """Explained energy less what its partials cost."""
    return fit.explained - 2 * len(fit.power) * (3 * window.noise(fit) + PARTIAL_COST / 2 * window.energy)


def read_pitch(
    sound: Signal,
    rate: float,
    hint: float | None = None,
    *,
    search: bool = True,
    longest: int = LENGTHS[-1],
    lengths: tuple[int, ...] = LENGTHS,
    moves: bool = False,
) -> Pitch | None:
    """Read the pitch at the end of a stretch of sound.

    Parameters
    ----------
    sound : Signal
        Whitened sound, shape (n,), n at least the last of `lengths`.
    rate : float
        Samples per second.
    hint : float or None
        Hz of the reading before.
    search : bool
        False to be content with the hint where it still explains the sound; that is three times as fast.
    longest : int
        The longest of `lengths` that may be read in; candidates always come from the longest of all.
    lengths : tuple of int
        Window lengths in samples, each about half of the next.
    moves : bool
        Whether the reading before moved; without a search this one is then read so at once.

    Returns
    -------
    Pitch or None
        None when no harmonic tone with at least `PERIODS` periods is there.

    Notes
    -----
    Candidates are spectrum peaks divided by small numbers. The best by penalised least squares is tested against its
    octave and twelfth neighbours, refined by Gauss-Newton, and read in the longest window that explains as much as the
    next shorter one and reads the same; where the pitch moves, so that none does, its movement is read with it.
    """
    sound = sound[-lengths[-1] :]
    whole = Window(sound)
    if whole.energy <= 0:
        return None
    fitting = tuple(length for length in lengths if length <= longest)
    stretch = Stretch(sound, Spectrum(sound, rate), rate, fitting, evenness=whole.evenness())
    if hint is not None and not search:
        same = _carried_on(stretch, hint, moves=moves)
        if same is not None:
            return same
    best = _acquire(whole, Window(sound[-lengths[min(1, len(lengths) - 1)] :]), stretch, hint)
    if best is None:
        return None
    pitch = _surer(stretch, read_near(stretch, supported(sound, best.omega, rate, hint)))
    if pitch is None or not SMEARED_SHARE <= pitch.share < RESCUED_SHARE or pitch.length == len(sound):
        return pitch
    return _rescued(stretch, pitch, [stretch.hz(best.omega), *candidates_of(stretch.spectrum)])


def _surer(stretch: Stretch, pitch: Pitch | None) -> Pitch | None:
    """In noise, the reading from the highest summit nearby if it is better."""
    if pitch is None or pitch.moves or not SMEARED_SHARE < pitch.share < CLEAR_SHARE:
        return pitch
    higher = summit(stretch, pitch)
    other = read_near(stretch, higher) if higher is not None else None
    if other is not None and (other.length > pitch.length or other.share > pitch.share):
        return other
    return pitch


def _rescued(stretch: Stretch, pitch: Pitch, candidates: list[float]) -> Pitch:
    """Read a part of a pitch instead where that, moving, explains clearly more with partials that are really there.

    A vibrato smears the partials on which the octave test rests; once its movement is known they are sharp again.
    """
    tried: list[float] = []
    for hz in (candidate * part for candidate in sorted(candidates, reverse=True) for part in (1, 2)):
        ratio = pitch.hz / hz
        whole = round(ratio) >= 2 and abs(ratio / round(ratio) - 1) <= SWING
        if not whole or any(abs(hz / other - 1) < SWING for other in tried):
            continue
        tried.append(hz)
        lower = read_moving(stretch, hz)
        # One that is steady and leaves nothing at all has taken noise for partials.
        if lower is not None and (lower.moves or lower.share < 1) and clearer(lower, pitch):
            return lower
    return pitch


def _carried_on(stretch: Stretch, hint: float, *, moves: bool) -> Pitch | None:
    """The pitch near the one before, if that explains the sound so well that no search is needed."""
    if moves:
        glide = read_moving(stretch, hint)
        if glide is not None and glide.moves and _carries_on(glide, hint):
            return glide
    same = read_near(stretch, stretch.omega(hint))
    return same if same is not None and _carries_on(same, hint) else None


def _carries_on(pitch: Pitch, hint: float) -> bool:
    """Whether a pitch is so well explained, near the one before and with real partials, that no search is needed."""
    if pitch.share < SAME_SHARE or abs(math.log2(pitch.hz / hint)) > 0.02:
        return False
    return has_all(pitch)


def _acquire(long: Window, mid: Window, stretch: Stretch, hint: float | None) -> Fit | None:
    """The fundamental that explains the window best for its number of partials."""
    tries = list(candidates_of(stretch.spectrum))
    if hint is not None and all(abs(math.log2(hint / hz)) > 0.02 for hz in tries):
        tries.append(hint)
    best: Fit | None = None
    best_score = -math.inf
    for hz in tries:
        window = long if hz < 55 or (stretch.evenness >= CHANGING and hz < 130) else mid
        fit = window.refine(stretch.omega(hz), partials_of(hz, SEARCH_TOP_HZ), 1)
        score = worth(fit, window) / max(window.energy, 1e-300)
        if score > best_score:
            best, best_score = fit, score
    return best
