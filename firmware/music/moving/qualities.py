"""Kinds of chord: members in semitones above the root, each with its just ratio, and how the trade writes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from firmware.music.intervals import Interval
from firmware.music.ratios import ratio


@dataclass(frozen=True, slots=True)
class Quality:
    """A kind of chord: its name, its signs in chord names, and its members."""

    name: str
    signs: tuple[str, ...]
    members: tuple[tuple[int, Interval], ...]

    @property
    def semitones(self) -> tuple[int, ...]:
        """Members above the root, the root first."""
        return tuple(semitones for semitones, _ in self.members)


def _quality(name: str, signs: str, members: Mapping[int, str]) -> Quality:
    return Quality(name, tuple(signs.split(" ")), tuple((n, ratio(text)) for n, text in {0: "1/1", **members}.items()))


_MAJOR: Mapping[int, str] = {4: "5/4", 7: "3/2"}
_MINOR: Mapping[int, str] = {3: "6/5", 7: "3/2"}
_DIMINISHED: Mapping[int, str] = {3: "6/5", 6: "64/45"}

# The signs are common practice; the ratios are those of `firmware.music.chords`, where each is explained.
QUALITIES: tuple[Quality, ...] = (
    _quality("major", " maj", _MAJOR),
    _quality("minor", "m min -", _MINOR),
    _quality("diminished", "° o dim", _DIMINISHED),
    _quality("augmented", "+ aug", {4: "5/4", 8: "25/16"}),
    _quality("dominant seventh", "7", {**_MAJOR, 10: "16/9"}),
    _quality("major seventh", "maj7 M7", {**_MAJOR, 11: "15/8"}),
    _quality("minor seventh", "m7 min7 -7", {**_MINOR, 10: "9/5"}),
    _quality("minor major seventh", "mM7 mmaj7", {**_MINOR, 11: "15/8"}),
    _quality("half-diminished seventh", "ø ø7 m7b5 m7♭5", {**_DIMINISHED, 10: "16/9"}),
    _quality("diminished seventh", "°7 o7 dim7", {**_DIMINISHED, 9: "128/75"}),
    _quality("added sixth", "6", {**_MAJOR, 9: "5/3"}),
    _quality("minor added sixth", "m6 min6", {**_MINOR, 9: "5/3"}),
    _quality("suspended fourth", "sus4 sus", {5: "4/3", 7: "3/2"}),
    _quality("suspended second", "sus2", {2: "9/8", 7: "3/2"}),
    _quality("open fifth", "5", {7: "3/2"}),
)

BY_SIGN: Mapping[str, Quality] = {sign: quality for quality in QUALITIES for sign in quality.signs}
BY_SEMITONES: Mapping[tuple[int, ...], Quality] = {quality.semitones: quality for quality in QUALITIES}
