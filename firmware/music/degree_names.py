"""How degrees are called: figures as the mode counts them, or the syllables of movable do.

Movable do is do-based in every mode: do is the tonic, so that minor is do re me fa sol le te. Raised tones are di ri fi
si li, lowered ones ra me fe se le te. Common practice; compared with music21 in the tests.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from firmware.errors import UnknownNameError
from firmware.music.modes import Mode

_SYLLABLES: Mapping[tuple[int, int], str] = MappingProxyType(
    {
        (0, 0): "do",
        (0, 1): "di",
        (1, 1): "ra",
        (1, 2): "re",
        (1, 3): "ri",
        (2, 3): "me",
        (2, 4): "mi",
        (3, 4): "fe",
        (3, 5): "fa",
        (3, 6): "fi",
        (4, 6): "se",
        (4, 7): "sol",
        (4, 8): "si",
        (5, 8): "le",
        (5, 9): "la",
        (5, 10): "li",
        (6, 10): "te",
        (6, 11): "ti",
    }
)
"""Syllables by letters and semitones above the tonic."""


@dataclass(frozen=True, slots=True)
class DegreeNames:
    """Names of degrees: by letters and semitones above the tonic, or without a table the figures of the mode itself."""

    name: str
    title: str
    syllables: Mapping[tuple[int, int], str] = field(default_factory=lambda: MappingProxyType({}))

    def say(self, label: str, mode: Mode) -> str:
        """A degree that the mode counts as `label`; what is no degree of it stays as it is."""
        tone = next((tone for tone in mode.tones if tone.label == label), None)
        return label if tone is None else self.syllables.get((tone.step, tone.semitones), label)

    def read(self, text: str) -> int | None:
        """Semitones above the tonic of a syllable; None for what is none."""
        wanted = text.strip().lower()
        return next((semitones for (_, semitones), said in self.syllables.items() if said == wanted), None)


FIGURES = DegreeNames("figures", "figures")
MOVABLE_DO = DegreeNames("movable-do", "movable do", _SYLLABLES)

DEGREE_NAMES: tuple[DegreeNames, ...] = (FIGURES, MOVABLE_DO)


def degree_names_named(name: str) -> DegreeNames:
    """Find names of degrees by their name."""
    for names in DEGREE_NAMES:
        if names.name == name:
            return names
    raise UnknownNameError("names of degrees", name, (names.name for names in DEGREE_NAMES))
