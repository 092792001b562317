"""Tempo words: what the common terms stand for where a score gives no number."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

TERMS: Final[Mapping[str, float]] = MappingProxyType(
    {
        "larghissimo": 16,
        "largamente": 32,
        "grave": 40,
        "molto adagio": 40,
        "largo": 46,
        "lento": 52,
        "adagio": 56,
        "slow": 56,
        "langsam": 56,
        "lent": 56,
        "larghetto": 60,
        "adagietto": 66,
        "andante": 72,
        "andantino": 80,
        "andante moderato": 83,
        "maestoso": 88,
        "moderato": 92,
        "moderate": 92,
        "modere": 92,
        "massig": 92,
        "allegretto": 108,
        "animato": 120,
        "lebhaft": 120,
        "tempo di marcia": 120,
        "march tempo": 120,
        "allegro moderato": 128,
        "allegro": 132,
        "fast": 132,
        "schnell": 132,
        "vif": 132,
        "allegrissimo": 140,
        "molto allegro": 144,
        "allegro molto": 144,
        "tres vite": 144,
        "vivace": 160,
        "vivo": 160,
        "vivacissimo": 168,
        "presto": 184,
        "prestissimo": 208,
    }
)
"""Quarter notes a minute. The values are those that music21 lists in tempo.defaultTempoValues where it has the term;
the others are ours, from its neighbour of the same meaning. A metronome gives ranges, which differ from maker to maker:
whoever knows better writes a number into the plan."""

QUALIFIERS: Final = ("molto ", "un poco ", "poco ", "tempo ")
"""Words before a term that leave its default as it is."""

FIRST_TEMPO: Final = ("tempo i", "tempo 1", "tempo primo", "tempo 1o", "tempo i o")
"""Words that bring back the first tempo."""

_OTHER: Final = re.compile(r"[^a-z0-9 ]+")
_LONGEST_FIRST: Final = tuple(sorted(TERMS, key=lambda term: (-len(term), term)))


def plain(words: str) -> str:
    """Words in small letters without accents and punctuation."""
    letters = unicodedata.normalize("NFKD", words.replace("ß", "ss").replace("º", "o")).lower()
    letters = "".join(sign for sign in letters if not unicodedata.combining(sign))
    return " ".join(_OTHER.sub(" ", letters).split())


def tempo_of(words: str) -> float | None:
    """Quarter notes a minute of words that begin with a known term; None for any others.

    "Allegro ma non troppo" is allegro; "più lento" says nothing without the tempo before it, and "lento assai" does.
    """
    found = plain(words)
    for text in (found, *(found.removeprefix(before) for before in QUALIFIERS if found.startswith(before))):
        for term in _LONGEST_FIRST:
            if text == term or text.startswith(term + " "):
                return TERMS[term]
    return None


def first_tempo(words: str) -> bool:
    """Whether words bring back the first tempo of the piece."""
    return plain(words) in FIRST_TEMPO
