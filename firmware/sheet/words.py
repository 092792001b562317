"""How the sheet writes times, cents and degrees."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

PLACES: Final = ("tonic", "second", "third", "fourth", "fifth", "sixth", "seventh")
LOWERED: Final[Mapping[str, str]] = MappingProxyType(
    {"♭2": "flat second", "♭3": "minor third", "♭5": "flat fifth", "♭6": "minor sixth", "♭7": "minor seventh"}
)
"""Degrees below those of major, as musicians call them (common practice)."""


def clock(seconds: float) -> str:
    """Time as minutes and seconds, with hours only if there are any: 1:05, 1:02:05."""
    whole = max(0, round(seconds))
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def signed_cents(cents: float) -> str:
    """Cents to the whole one with a sign, true minus included; 0 has none."""
    whole = round(cents)
    return "0" if whole == 0 else f"{'+' if whole > 0 else '−'}{abs(whole)}"


def sharp_or_flat(cents: float) -> str:
    """Cents in a player's words: "14 cents sharp", "1 cent flat", "in tune"."""
    whole = abs(round(cents))
    if whole == 0:
        return "in tune"
    return f"{counted(whole, 'cent')} {'sharp' if cents > 0 else 'flat'}"


def counted(count: int, thing: str) -> str:
    """A number and its noun: "1 note", "2 notes"."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def degree_name(degree: str) -> str:
    """A degree in words: "third", "minor third", "sharp fourth"; the label itself if it is none of the scale."""
    if degree in LOWERED:
        return LOWERED[degree]
    sharp = degree.startswith("♯")
    digits = degree.removeprefix("♯")
    if not digits.isdecimal() or not 1 <= int(digits) <= len(PLACES):
        return f"degree {degree}"
    name = PLACES[int(digits) - 1]
    return f"sharp {name}" if sharp else name


def signed(value: float, places: int = 0) -> str:
    """A number with its sign, true minus included; 0 has none."""
    rounded = round(value, places)
    return f"{0:.{places}f}" if rounded == 0 else f"{'+' if rounded > 0 else '−'}{abs(rounded):.{places}f}"


def listed(things: list[str]) -> str:
    """Things as a sentence lists them: "a, b and c"."""
    return " and ".join((", ".join(things[:-1]), things[-1])) if len(things) > 1 else "".join(things)
