"""What a tuning is, and the four ways to make one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from firmware.errors import OutOfRangeError
from firmware.music.intervals import OCTAVE, SEMITONE, UNISON, Interval
from firmware.music.keys import Key, key_of
from firmware.music.notes import A4_MIDI, Note

Rule = Callable[[Key, int], Interval]
"""Interval of the tone 0 to 11 semitones above the tonic of a key."""

FIFTH = Interval.of("3/2")
PYTHAGOREAN_COMMA = FIFTH**12 / OCTAVE**7

_C = key_of("C", "chromatic")


@dataclass(frozen=True, slots=True)
class Tuning:
    """How the twelve tones of a key are tuned.

    A fixed tuning belongs to the note names, as on a keyboard: A4 is the reference. Any other goes with the tonic,
    which keeps its equal-tempered distance from A4. With pure chords every chord is tuned from its own root.
    """

    name: str
    title: str
    source: str
    fixed: bool
    rule: Rule
    pure_chords: bool = False

    def interval(self, key: Key, semitones: int) -> Interval:
        """Interval from the tonic up to the tone this many semitones above it (any whole number)."""
        octaves, within = divmod(semitones, 12)
        return self.rule(key, within) * OCTAVE**octaves

    def from_a4(self, tonic: Note) -> Interval:
        """Interval from A4 to a tonic."""
        if not self.fixed:
            return SEMITONE ** (tonic.midi - A4_MIDI)
        return self.interval(_C, tonic.midi) / self.interval(_C, A4_MIDI)


def of_mode() -> Rule:
    """Tune every tone to the ratio that the mode itself gives."""
    return lambda key, semitones: key.mode.tones[semitones].interval


def on_tonic(steps: Sequence[Interval]) -> Rule:
    """Tune by twelve intervals above the tonic."""
    kept = tuple(steps)
    return lambda _key, semitones: kept[semitones]


def on_c(steps: Sequence[Interval]) -> Rule:
    """Tune by twelve intervals above C, whatever the tonic."""
    high = (*steps, *(step * OCTAVE for step in steps))
    # All pairs at once: exact arithmetic is slow, and naming what is heard asks for twelve tones each time.
    table = tuple(tuple(high[tonic + n] / high[tonic] for n in range(12)) for tonic in range(12))
    return lambda key, semitones: table[key.tonic.semitones][semitones]


def by_fifths(fifth: Interval) -> Rule:
    """Tune by steps of one fifth from the tonic, as the key spells the tone: a raised fourth is not a lowered fifth."""
    table = {count: (fifth**count).folded() for count in range(-11, 12)}
    return lambda key, semitones: table[key.spell(semitones).fifths - key.tonic.fifths]


def circle(fifths: Iterable[Interval]) -> tuple[Interval, ...]:
    """Twelve intervals above C from the twelve fifths C-G, G-D and so on to F-C, which must close.

    Raises
    ------
    OutOfRangeError
        If there are not twelve, or they do not come back to C seven octaves higher.
    """
    chain = tuple(fifths)
    steps = [UNISON] * 12
    here = UNISON
    for number, fifth in enumerate(chain):
        steps[number * 7 % 12] = here.folded()
        here *= fifth
    if len(chain) != 12 or here != OCTAVE**7:
        raise OutOfRangeError("circle of fifths", f"{len(chain)} fifths", "twelve that make seven octaves")
    return tuple(steps)


def offset(semitones: int, cents: Fraction | int | str) -> Interval:
    """Interval of so many equal semitones and an exact number of cents more."""
    return SEMITONE**semitones * Interval.of_cents(cents)


def own_tuning(
    name: str,
    intervals: Mapping[int, Interval | Fraction | int | str],
    *,
    title: str = "",
    fixed: bool = False,
    source: str = "the user's own",
) -> Tuning:
    """Make the user's own tuning from exact intervals above the tonic, or above C when it is fixed.

    Parameters
    ----------
    name : str
        Under which `Harmony.tuning` asks for it.
    intervals : Mapping
        By semitones 1 to 11: an interval, a ratio ("5/4") or cents ("386.31 cents"). A tone left out is equal.
    title : str
        What the screen shows; the name if empty.
    fixed : bool
        Whether it belongs to the note names instead of the tonic.
    source : str
        Where it comes from.

    Raises
    ------
    OutOfRangeError
        If a number of semitones is not one of 0 to 11, or the tones do not rise within one octave from 1/1.
    """
    thing = f"tuning {name}: interval of semitones "
    steps = [SEMITONE**semitones for semitones in range(12)]
    for semitones, value in intervals.items():
        if semitones not in range(12):
            raise OutOfRangeError(thing + str(semitones), str(value), "one for 0 to 11 semitones")
        steps[semitones] = value if isinstance(value, Interval) else Interval.of(value)
    if steps[0] != UNISON:
        raise OutOfRangeError(thing + "0", steps[0].text, "1, as all others count from it")
    for semitones, (low, high) in enumerate(zip(steps, (*steps[1:], OCTAVE), strict=True)):
        if low.cents >= high.cents:
            allowed = f"less than the next, {high.text}"
            raise OutOfRangeError(thing + str(semitones), low.text, allowed, "The twelve tones must rise.")
    return Tuning(name, title or name, source, fixed, on_c(steps) if fixed else on_tonic(steps))
