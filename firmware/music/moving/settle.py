"""Adaptive just intonation: the pitches of a chord that are nearest to just, with the least motion from before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Cents = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stiffness:
    """How hard each tone is held: to the others of its chord, to where it was before, and to the reference.

    Only the proportions count.
    """

    chord: float = 1.0
    motion: float = 0.2
    reference: float = 0.1


FIRM: Final = Stiffness()


def settled(
    just: Cents,
    before: Sequence[float | None],
    reference: Sequence[float],
    stiffness: Stiffness = FIRM,
) -> Cents:
    """Find the pitches of a chord by weighted least squares.

    Parameters
    ----------
    just : Cents
        Where each tone would be in the just chord, up to a common shift, in cents; shape (n,).
    before : sequence of float or None
        Where the same tone was in the chord before, in cents, None where it did not sound; length n.
    reference : sequence of float
        Where the tone would be if nothing drifted, in cents; length n.
    stiffness : Stiffness
        Weights of the three.

    Returns
    -------
    Cents
        Pitches in cents, shape (n,); empty for no tones.

    Notes
    -----
    Minimises sum over pairs of c (p_i - p_j - (just_i - just_j))^2 plus sum of m (p_i - before_i)^2 plus sum of
    r (p_i - reference_i)^2: a linear system of n equations, as K. Stange, C. Wick and H. Hinrichsen do in "Playing
    Music in Just Intonation: A Dynamically Adaptive Tuning Scheme", Computer Music Journal 42(3), 2018. The pull to
    the reference is the third term here; the pairs are those of one just chord, so they never contradict each other.
    """
    count = len(just)
    if not count:
        return np.zeros(0)
    held = np.array([previous is not None for previous in before], dtype=np.float64) * stiffness.motion
    was = np.array([0.0 if previous is None else previous for previous in before])
    matrix = np.full((count, count), -stiffness.chord, dtype=np.float64)
    np.fill_diagonal(matrix, stiffness.chord * (count - 1) + held + stiffness.reference)
    force = stiffness.chord * (count * just - just.sum()) + held * was + stiffness.reference * np.asarray(reference)
    solved: Cents = np.linalg.solve(matrix, force)
    return solved
