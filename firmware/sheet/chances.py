"""What so few rounds can tell: exact intervals for a share and for a middle, and what guessing would give."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

LEVEL: Final = 0.95
"""How often an interval holds the truth."""

HALVINGS: Final = 60


def at_least(right: int, count: int, chance: float) -> float:
    """Probability of so many right answers or more, when each is right with the same chance (binomial)."""
    return math.fsum(
        math.comb(count, hits) * chance**hits * (1.0 - chance) ** (count - hits) for hits in range(right, count + 1)
    )


def guessed(right: int, count: int) -> float:
    """Probability that who guesses between two answers has so many right, or more."""
    return at_least(right, count, 0.5)


def share_interval(right: int, count: int, level: float = LEVEL) -> tuple[float, float]:
    """Exact interval for the share of right answers (Clopper & Pearson 1934, Biometrika 26).

    Parameters
    ----------
    right, count : int
        Right answers, of how many; at least one.
    level : float
        How often the interval holds the truth, at least.

    Returns
    -------
    tuple of float
        From 0 to 1.
    """
    tail = (1.0 - level) / 2.0
    low = _crossing(lambda chance: at_least(right, count, chance) - tail) if right else 0.0
    high = _crossing(lambda chance: at_least(right + 1, count, chance) - (1.0 - tail)) if right < count else 1.0
    return low, high


def middle_interval(values: Sequence[float], level: float = LEVEL) -> tuple[float, float] | None:
    """Interval for the true middle, whatever the values' distribution; None if there are too few for the level.

    The true median lies between the k-th value from below and the k-th from above, unless less than k of all values
    fell on one side of it, which has a binomial chance (Conover, Practical Nonparametric Statistics, 3rd ed., 3.2).
    Six values are the fewest for 95 %.
    """
    ordered, count = sorted(values), len(values)
    for place in range((count + 1) // 2, 0, -1):
        outside = 2.0 * (1.0 - guessed(place, count))
        if 1.0 - outside >= level:
            return ordered[place - 1], ordered[count - place]
    return None


def _crossing(rising: Callable[[float], float]) -> float:
    """Where a function that rises from below to above 0 between 0 and 1 crosses it."""
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        if rising(middle) < 0.0:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
