"""What an answer is made of: which partials of the player's target it sounds, and which it leaves to the player.

An answer leaves the second and the third partial of its target free, and no partial of it lies closer than half the
target to either. Whatever is heard there is the player: neither a match in pitch nor a louder answer can hide it. The
fundamental is in every answer, because there the two beat against each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

OCTAVES: Final = ("same", "lower")
"""Where the answer sounds: in the player's octave, or in the one below."""

FREE: Final = (2, 3)
"""Partials of the target that no answer has."""

HIGHEST_HZ: Final = 2_400.0
"""Targets above this are not answered: the partials that are left to the player are no longer heard well enough."""


@dataclass(frozen=True, slots=True)
class AnswerPartial:
    """One partial: its frequency as a multiple of the target's, its level in dB."""

    multiple: Fraction
    level_db: float


def _partials(tone: Fraction, levels: dict[int, float]) -> tuple[AnswerPartial, ...]:
    return tuple(AnswerPartial(tone * number, level) for number, level in levels.items())


SAME: Final = _partials(Fraction(1), {1: 0.0, 4: -8.0, 5: -10.0, 6: -14.0, 8: -18.0})
LOWER: Final = _partials(Fraction(1, 2), {1: 0.0, 2: -3.0, 3: -6.0, 5: -10.0, 8: -14.0, 10: -18.0})
"""The second of the lower tone is the target itself, its eighth and tenth are the fourth and fifth of the target."""


def answer_partials(octave: str) -> tuple[AnswerPartial, ...]:
    """Partials of an answer in one of the `OCTAVES`, low to high; the player's own for a name that is not known."""
    return LOWER if octave == OCTAVES[1] else SAME
