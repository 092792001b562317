"""What note names in a language are: a table of all names, and other ways to write them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from firmware.errors import UnknownNameError
from firmware.music.notes import LARGEST_ALTER, LETTERS, PitchName

ALL_NAMES: tuple[PitchName, ...] = tuple(
    PitchName(letter, alter) for letter in LETTERS for alter in range(-LARGEST_ALTER, LARGEST_ALTER + 1)
)


@dataclass(frozen=True, slots=True)
class NoteNames:
    """Note names in one language.

    `texts` are the names as musicians write them and `plains` the same without musical signs; `reads` knows every
    way to write one, and answers None for what is no name in this language.
    """

    name: str
    title: str
    texts: Mapping[PitchName, str]
    plains: Mapping[PitchName, str]
    reads: Callable[[str], PitchName | None]

    def say(self, name: PitchName) -> str:
        """The name as musicians write it: B♭, B or Si♭."""
        return self.texts[name]

    def plain(self, name: PitchName) -> str:
        """The name in plain letters: Bb, B or Sib."""
        return self.plains[name]

    def read(self, text: str, allowed: Iterable[PitchName] | None = None, thing: str = "note name") -> PitchName:
        """Read a name; with `allowed` only one of those.

        Raises
        ------
        UnknownNameError
            If it is none in this language, or not allowed; it lists the allowed names as the language has them.
        """
        found = self.reads(text)
        if found is None or (allowed is not None and found not in tuple(allowed)):
            listed = ALL_NAMES if allowed is None else allowed
            names = (self.plain(name) for name in listed if abs(name.alter) <= 1)
            raise UnknownNameError(thing, text, names)
        return found


def table_of(write: Callable[[PitchName], str]) -> Mapping[PitchName, str]:
    """A name for each pitch name, up to three accidentals."""
    return MappingProxyType({name: write(name) for name in ALL_NAMES})
