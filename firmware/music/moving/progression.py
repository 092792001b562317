"""Progressions: chords with their lengths, read from text, tuned and led one after the other."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from firmware.errors import OutOfRangeError, UnknownNameError
from firmware.music.chords import HeldChord, Member, Role
from firmware.music.harmony import Harmony
from firmware.music.intervals import OCTAVE
from firmware.music.keys import Key
from firmware.music.moving.choices import Choice, TunedChord, tune
from firmware.music.moving.symbols import ChordSymbol, chord_symbol
from firmware.music.moving.voicing import LEAST_SPAN, Voicing, led

LONGEST: Final = 200
"""Chords in one progression."""

MOST_BEATS: Final = 64
_LOWEST: Final[Mapping[Role, int]] = {Role.ROOT: 0, Role.THIRD: 2, Role.FIFTH: 6, Role.SEVENTH: 9}
_WORD: Final = re.compile(r"(?P<chord>[^:]+?)(?::(?P<beats>[0-9]{1,3}))?")


@dataclass(frozen=True, slots=True)
class Step:
    """One chord of a progression and how many beats it stays when the pulse moves it; 0 means a whole bar."""

    symbol: ChordSymbol
    beats: int = 0


@dataclass(frozen=True, slots=True)
class Progression:
    """Chords of a key in their order, and the way of each voice."""

    steps: tuple[Step, ...] = ()
    ways: tuple[Voicing, ...] = ()

    def after(self, place: int) -> int:
        """Place of the chord after this one; the first follows the last."""
        return (place + 1) % len(self.steps)


def progression_of(text: str, key: Key, span: int = LEAST_SPAN) -> Progression:
    """Read a progression: chords with spaces between, each with its beats if wanted, `I:4 vi:2 ii:2 V7`.

    A bar line | may stand between chords; it is for the eye.

    Raises
    ------
    UnknownNameError, OutOfRangeError
        If a chord or its beats can't be read, or there are too many chords.
    """
    steps = steps_of(text, key)
    return Progression(steps, led([step.symbol for step in steps], span, around=len(steps) > 1))


def steps_of(text: str, key: Key) -> tuple[Step, ...]:
    """Read the chords of a progression; see `progression_of`."""
    words = text.replace("|", " ").split()
    if len(words) > LONGEST:
        raise OutOfRangeError("chords in a progression", len(words), f"at most {LONGEST}")
    return tuple(_step(word, key) for word in words)


def _step(word: str, key: Key) -> Step:
    found = _WORD.fullmatch(word)
    if found is None:
        raise UnknownNameError("chord", word, ("a chord, or a chord and its beats such as V7:2",))
    beats = int(found["beats"] or 0)
    if found["beats"] and not 1 <= beats <= MOST_BEATS:
        raise OutOfRangeError(f"beats of {found['chord']}", beats, f"1 to {MOST_BEATS}")
    return Step(chord_symbol(found["chord"], key), beats)


@dataclass(frozen=True, slots=True)
class Held:
    """A chord of a progression in both forms: as a harmony holds it, and as the next chord is tuned after it."""

    chord: HeldChord
    tuned: TunedChord


def role_of(semitones: int) -> Role:
    """What a tone so many semitones above the root is to the chord; what is suspended stands for the third."""
    return next(role for role in reversed(Role) if semitones >= _LOWEST[role])


def held(progression: Progression, place: int, harmony: Harmony, choice: Choice, before: TunedChord | None) -> Held:
    """Tune one chord of a progression after the one that sounded before, and place its voices.

    Returns
    -------
    Held
        The chord as a harmony holds it, and as the next one is tuned after it.
    """
    symbol = progression.steps[place].symbol
    chord = tune(symbol, harmony, choice, before)
    members = tuple(
        (Member(role_of(above), above, pure), n, chord.tones[n])
        for (n, pure), above in zip(symbol.members, symbol.quality.semitones, strict=True)
    )
    voices = tuple((n, chord.tones[n % 12] * OCTAVE ** (n // 12)) for n in progression.ways[place])
    return Held(HeldChord(symbol.text, symbol.root, members, voices, chord.drift), chord)
