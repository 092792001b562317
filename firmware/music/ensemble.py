"""Names of the groups that a drill may be for: sections of an ensemble, never people."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final

from firmware.errors import OutOfRangeError
from firmware.music.instruments import INSTRUMENTS

EVERYONE: Final = "Everyone"
SECTIONS: Final = (EVERYONE, "Woodwinds", "Brass", "Strings", "Percussion", "Sopranos", "Altos", "Tenors", "Basses")
"""Groups that are named by no instrument (common practice)."""

LONGEST: Final = 24
"""Characters of a name of the director's own."""

ONE_WORD: Final[Mapping[str, str]] = MappingProxyType(
    {"timpani": "timpani", "oboe d'amore": "oboes d'amore", "piccolo trumpet in A": "piccolo trumpets"}
)
"""Plurals that the rule does not make."""


def plural(title: str) -> str:
    """Several players of an instrument, without what the part is written in: "horn in F" gives "horns"."""
    if title in ONE_WORD:
        return ONE_WORD[title]
    bare = title.partition(",")[0].partition(" in ")[0]
    return f"{bare}es" if bare.endswith(("ss", "x")) else f"{bare}s"


def groups_of(titles: Iterable[str]) -> tuple[str, ...]:
    """Groups for instruments, each once, in their order."""
    named = (plural(title) for title in titles)
    return tuple(dict.fromkeys(f"{name[0].upper()}{name[1:]}" for name in named))


GROUPS: Final = tuple(
    dict.fromkeys((*SECTIONS, *groups_of(one.title for one in INSTRUMENTS if one.name not in {"concert", "voice"})))
)
"""Groups on the knob; any other can be written in a file."""


def own_group(text: str) -> str:
    """Read the name of a group of the director's own; raises OutOfRangeError if the screen has no room for it."""
    if len(text) > LONGEST or not text.strip():
        raise OutOfRangeError("group", text, f"1 to {LONGEST} characters")
    return text


def group_text(group: str, number: int) -> str:
    """A group as the screen and the sheet call it: "Clarinets 2"; without a number when there is only one of it."""
    return f"{group} {number}" if number else group
