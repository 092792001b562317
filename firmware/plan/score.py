"""What a plan needs of a score: bars, keys at concert pitch, meters, tempos, rehearsal marks, the order of playing."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, NamedTuple

from firmware.music.modes import mode_named
from firmware.music.notes import PitchName

ASSUMED_MODE: Final = "major"
"""Mode of a key signature of which the score does not say the mode."""


def on_the_line(fifths: int) -> PitchName:
    """Name at a place on the line of fifths: C at 0, G at 1, B♭ at -2."""
    alter, letter = divmod(fifths + 1, 7)
    return PitchName("FCGDAEB"[letter], alter)


class Place(NamedTuple):
    """A place in the score as it is printed: bar, counted from 0, and quarter notes from its beginning."""

    bar: int
    offset: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class ScoreBar:
    """One printed bar: the number over it, and how many quarter notes it holds."""

    number: str
    length: Fraction


@dataclass(frozen=True, slots=True)
class ScoreKey:
    """A key from a place on: sharps (or flats, below 0) at concert pitch, and the mode, empty if nobody said."""

    place: Place
    fifths: int
    mode: str = ""

    @property
    def tonic(self) -> PitchName:
        """The tonic at concert pitch."""
        return on_the_line(self.fifths - mode_named(self.mode or ASSUMED_MODE).signature)


@dataclass(frozen=True, slots=True)
class ScoreMeter:
    """A meter from a place on, as the box writes it; empty for bars without one."""

    place: Place
    text: str


@dataclass(frozen=True, slots=True)
class ScoreTempo:
    """A tempo from a place on: quarter notes a minute, the words beside it, and whether only the words gave it."""

    place: Place
    quarters: float
    words: str = ""
    by_words: bool = False


@dataclass(frozen=True, slots=True)
class ScoreMark:
    """A rehearsal mark."""

    place: Place
    text: str


@dataclass(frozen=True, slots=True)
class Turn:
    """What a bar does to the order of playing; `endings` are the passes in which it is played, empty for all."""

    forward: bool = False
    backward: int = 0
    """Passes in all when a repeat ends with this bar, 0 when none does."""
    endings: tuple[int, ...] = ()
    ending_begins: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    da_capo: bool = False
    dal_segno: bool = False
    trio: bool = False
    final: bool = False
    """Whether a movement ends with this bar."""


@dataclass(frozen=True, slots=True)
class ScorePart:
    """One part: its name, whether it has no pitch, and its keys at concert pitch and meters."""

    name: str
    unpitched: bool
    keys: tuple[ScoreKey, ...]
    meters: tuple[ScoreMeter, ...]


@dataclass(frozen=True, slots=True)
class Score:
    """A score, as much of it as a plan needs."""

    title: str
    bars: tuple[ScoreBar, ...]
    keys: tuple[ScoreKey, ...] = ()
    meters: tuple[ScoreMeter, ...] = ()
    tempos: tuple[ScoreTempo, ...] = ()
    marks: tuple[ScoreMark, ...] = ()
    turns: tuple[Turn, ...] = ()
    parts: tuple[ScorePart, ...] = ()
    remarks: tuple[str, ...] = ()
    """What of it can't be followed, for the report."""
