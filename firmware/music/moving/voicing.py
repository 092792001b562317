"""Voice leading: where each voice of a chord goes, so that all of them together move least."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Final

from firmware.errors import OutOfRangeError
from firmware.music.moving.symbols import ChordSymbol

VOICES: Final = 4
LEAST_SPAN: Final = 31
"""Semitones that the voices need; every kind of chord then has a place for each member over any bass."""

Voicing = tuple[int, ...]
"""Semitones above the tonic of the lowest octave, the bass first, rising."""

WIDE: Final = 1
"""Cost of a gap of more than an octave between two upper voices, in semitones of motion for each semitone too many."""


def voicings(symbol: ChordSymbol, span: int = LEAST_SPAN, voices: int = VOICES) -> tuple[Voicing, ...]:
    """List the ways to sound a chord: its bass lowest, all members there, spare voices doubling root, fifth or bass.

    Parameters
    ----------
    symbol : ChordSymbol
        The chord.
    span : int
        Semitones from the lowest tonic up that the voices may use, at least `LEAST_SPAN`.
    voices : int
        How many voices; at least as many as the chord has members.

    Raises
    ------
    OutOfRangeError
        If the span or the voices are too few.
    """
    classes = [(symbol.root + semitones) % 12 for semitones in symbol.quality.semitones]
    if voices < len(classes):
        raise OutOfRangeError("voices", voices, f"at least {len(classes)} for {symbol.text}")
    if span < LEAST_SPAN:
        raise OutOfRangeError("span of the voices", span, f"at least {LEAST_SPAN} semitones")
    bass = (symbol.root + symbol.bass) % 12
    # A doubled third or seventh sticks out: common practice.
    doubled = {symbol.root, bass} | ({(symbol.root + 7) % 12} & set(classes))
    found: set[Voicing] = set()
    for more in itertools.combinations_with_replacement(sorted(doubled), voices - len(classes)):
        upper = [*classes, *more]
        upper.remove(bass)
        places = itertools.product(*(range(pitch, span + 1, 12) for pitch in upper))
        found |= {(bass, *sorted(tones)) for tones in places if min(tones) > bass and len(set(tones)) == len(tones)}
    return tuple(sorted(found))


def motion(before: Voicing, after: Voicing) -> int:
    """Semitones that all voices together move."""
    return sum(abs(low - high) for low, high in zip(before, after, strict=True))


def _width(voicing: Voicing) -> int:
    gaps = (high - low for low, high in itertools.pairwise(voicing[1:]))
    return WIDE * sum(max(0, gap - 12) for gap in gaps)


def led(symbols: Sequence[ChordSymbol], span: int = LEAST_SPAN, *, around: bool = False) -> tuple[Voicing, ...]:
    """Lead the voices through a progression by the shortest path: of all ways through, the one that moves least.

    Parameters
    ----------
    symbols : sequence of ChordSymbol
        The progression.
    span : int
        Semitones from the lowest tonic up that the voices may use.
    around : bool
        Whether the last chord leads to the first again; its motion then counts too.

    Notes
    -----
    The shortest path through layers of voicings by dynamic programming (R. Bellman, "On a Routing Problem",
    Quarterly of Applied Mathematics 16, 1958). Around, once for each voicing of the first chord.
    """
    if not symbols:
        return ()
    layers = [voicings(symbol, span) for symbol in symbols]
    if not around:
        return _shortest(layers)[1]
    ways = [_shortest([(first,), *layers[1:], (first,)]) for first in layers[0]]
    return min(ways)[1][:-1]


def _shortest(layers: Sequence[tuple[Voicing, ...]]) -> tuple[int, tuple[Voicing, ...]]:
    best: dict[Voicing, tuple[int, tuple[Voicing, ...]]] = {
        voicing: (voicing[-1] + _width(voicing), (voicing,)) for voicing in layers[0]
    }
    for layer in layers[1:]:
        best = {
            voicing: min(
                (cost + motion(way[-1], voicing) + _width(voicing), (*way, voicing)) for cost, way in best.values()
            )
            for voicing in layer
        }
    return min(best.values())
