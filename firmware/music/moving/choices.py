"""What stays when the chord moves: the tonic, the common tones, or as much as possible of everything."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

import numpy as np

from firmware.errors import UnknownNameError
from firmware.music.harmony import Harmony, intervals_of
from firmware.music.intervals import OCTAVE, UNISON, Interval
from firmware.music.moving.settle import settled
from firmware.music.moving.symbols import ChordSymbol
from firmware.units import CENTS_PER_OCTAVE

Tuned = Mapping[int, Interval]
"""Tones of a chord by semitones above the tonic, 0 to 11: each one's interval above it, within half an octave."""

EXACT: Final = 10**6
"""Fractions of a cent that a solved pitch is kept to."""


@dataclass(frozen=True, slots=True)
class TunedChord:
    """A chord with every tone tuned, and how far it has drifted from where its root belongs in the key, in cents."""

    symbol: ChordSymbol
    tones: Tuned
    drift: float = 0.0


@dataclass(frozen=True, slots=True)
class Choice:
    """One rule for what stays: its name, its title, and the rule itself."""

    name: str
    title: str
    rule: Callable[[Tuned, Tuned], Tuned] = field(repr=False)
    """From the chord with its root where the key has it, and the chord before, to the chord as it sounds."""


def moved(tones: Tuned, by: Interval) -> Tuned:
    """Move all tones of a chord by the same interval."""
    return {semitones: interval * by for semitones, interval in tones.items()}


def in_key(symbol: ChordSymbol, harmony: Harmony) -> Tuned:
    """Tune a chord just in itself, its root where the key's own tuning has it."""
    (root,) = intervals_of(harmony, symbol.root)
    return {semitones: _near(root * interval, semitones) for semitones, interval in symbol.members}


def _near(interval: Interval, semitones: int) -> Interval:
    """Return the interval moved by octaves until it is next to so many semitones."""
    return interval / OCTAVE ** round(interval.cents / CENTS_PER_OCTAVE - semitones / 12)


def _tonic(tones: Tuned, _before: Tuned) -> Tuned:
    return tones


def _common(tones: Tuned, before: Tuned) -> Tuned:
    """Shift the chord so that its common tones stay, on average where they disagree; without any, by the last drift."""
    shared = [before[semitones] / tones[semitones] for semitones in tones if semitones in before]
    if not shared:
        return tones
    shift = UNISON
    for interval in shared:
        shift *= interval
    return moved(tones, shift ** Fraction(1, len(shared)))


def _least(tones: Tuned, before: Tuned) -> Tuned:
    just = np.array([interval.cents for interval in tones.values()])
    was = [before[semitones].cents if semitones in before else None for semitones in tones]
    found = settled(just, was, [float(cents) for cents in just])
    return {
        semitones: Interval.of_cents(Fraction(round(cents * EXACT), EXACT))
        for semitones, cents in zip(tones, found.tolist(), strict=True)
    }


CHOICES: tuple[Choice, ...] = (
    Choice("tonic", "tonic held", _tonic),
    Choice("common", "common tones held", _common),
    Choice("least", "least motion", _least),
)


def choice_named(name: str) -> Choice:
    """Find a choice by its name."""
    for choice in CHOICES:
        if choice.name == name:
            return choice
    raise UnknownNameError("what stays", name, (choice.name for choice in CHOICES))


def tune(symbol: ChordSymbol, harmony: Harmony, choice: Choice, before: TunedChord | None = None) -> TunedChord:
    """Tune a chord after the one before it.

    A chord that shares no tone with the one before carries its drift on, except with the tonic held.
    """
    home = in_key(symbol, harmony)
    if before is None:
        return TunedChord(symbol, home)
    was = before.tones
    if not home.keys() & was.keys():
        was = moved(home, Interval.of_cents(Fraction(round(before.drift * EXACT), EXACT)))
    tones = choice.rule(home, was)
    return TunedChord(symbol, tones, tones[symbol.root].cents - home[symbol.root].cents)
