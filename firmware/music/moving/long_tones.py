"""Long tones: tonics one after the other, each to be sounded for some beats with a rest for breath between them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from firmware.errors import OutOfRangeError, UnknownNameError
from firmware.music.keys import ALL_TONICS, Key, usual_tonic
from firmware.music.notes import PitchName, parse_pitch_name

MOST: Final = 48
"""Tonics in a list."""


def _by(steps: int) -> Callable[[Key], tuple[int, ...]]:
    return lambda _key: tuple(steps * number for number in range(12))


PATHS: Final[Mapping[str, Callable[[Key], tuple[int, ...]]]] = {
    "semitones": _by(1),
    "fifths": _by(7),
    "scale": lambda key: key.mode.scale,
}
"""Ways by name: semitones above the first tonic, in their order; then they begin again."""


def tonics_of(text: str, key: Key) -> tuple[PitchName, ...]:
    """Read a way through tonics: one of `PATHS` from the key's own tonic, or a list such as `Bb F C`.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If a name is none, or no tonic of the box, or there are too many or none.
    """
    path = PATHS.get(text.strip())
    if path is not None:
        return tuple(usual_tonic((key.tonic.semitones + above) % 12, key.mode) for above in path(key))
    words = text.replace(",", " ").split()
    if not 1 <= len(words) <= MOST:
        raise OutOfRangeError("tonics in a list", len(words), f"1 to {MOST}")
    return tuple(_tonic(word) for word in words)


def _tonic(word: str) -> PitchName:
    name = parse_pitch_name(word)
    if name not in ALL_TONICS:
        raise UnknownNameError("tonic", word, (*PATHS, *(tonic.plain for tonic in ALL_TONICS)))
    return name
