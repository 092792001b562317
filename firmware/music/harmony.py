"""What the drone holds: a key, a tuning and a shape, worked out to exact tones."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from firmware.errors import OutOfRangeError, UnknownNameError
from firmware.music.chords import HeldChord, Member, Role, chord_on, shape_named
from firmware.music.intervals import OCTAVE, Interval
from firmware.music.keys import Key
from firmware.music.modes import ALTERNATIVE_NAMES
from firmware.music.notes import Note, note_at
from firmware.music.tuning import Tuning
from firmware.music.tunings import tuning_named
from firmware.units import cents_of

A4_RANGE = (380.0, 480.0)
"""Reference pitches the box accepts, in Hz."""

OCTAVE_RANGE = (0, 7)
OCTAVES_RANGE = (1, 5)
FREE_RANGE = (0, 23)


@dataclass(frozen=True, slots=True)
class Harmony:
    """All that decides which tones sound and how loud; levels in dB relative to a root in the lowest octave.

    `chord_degree` is semitones of the chord's root above the tonic, `free` semitones above the tonic for the free
    shape (0 to 23; empty means the tonic alone). Of two `alternatives` for one tone the later counts; one that the
    mode does not have waits for a mode that does. `own` is the user's own tuning, used when `tuning` is its name. A
    chord that is `held` out of a progression takes the place of the shape, with voices of its own.
    """

    key: Key
    tuning: str = "just"
    a4: float = 440.0
    shape: str = "octaves"
    chord_degree: int = 0
    octave: int = 2
    octaves: int = 2
    free: tuple[int, ...] = ()
    third_db: float = -3.0
    fifth_db: float = 0.0
    seventh_db: float = -4.0
    slope_db: float = -3.0
    alternatives: tuple[str, ...] = ()
    own: Tuning | None = None
    held: HeldChord | None = None

    def __post_init__(self) -> None:
        self.scheme()
        shape_named(self.shape)
        for name in self.alternatives:
            if name not in ALTERNATIVE_NAMES:
                raise UnknownNameError("alternative", name, ALTERNATIVE_NAMES)
        _within("reference for A4", self.a4, A4_RANGE, " Hz")
        _within("chord degree", self.chord_degree, (0, 11), " semitones")
        _within("octave", self.octave, OCTAVE_RANGE)
        _within("number of octaves", self.octaves, OCTAVES_RANGE)
        for semitones in self.free:
            _within("free degree", semitones, FREE_RANGE, " semitones")
        for level in (self.third_db, self.fifth_db, self.seventh_db, self.slope_db):
            if not math.isfinite(level):
                raise OutOfRangeError("level", level, "a number of dB")

    def scheme(self) -> Tuning:
        """Return the tuning itself."""
        return tuning_named(self.tuning, () if self.own is None else (self.own,))

    def tuned_key(self) -> Key:
        """Return the key with the chosen alternatives in place of the mode's own ratios."""
        if not self.alternatives:
            return self.key
        chosen = {a.semitones: a for name in self.alternatives for a in self.key.mode.alternatives if a.name == name}
        tones = tuple(
            replace(tone, interval=chosen[tone.semitones].interval, source=chosen[tone.semitones].source)
            if tone.semitones in chosen
            else tone
            for tone in self.key.mode.tones
        )
        return replace(self.key, mode=replace(self.key.mode, tones=tones))

    def tonic(self, octave: int) -> Note:
        """Return the tonic with an octave number."""
        return Note(self.key.tonic, octave)

    def hz_of(self, octave: int, interval: Interval) -> float:
        """Frequency of the tone an interval above the tonic with an octave number, in Hz.

        The way from A4 stays exact up to the last step: a tone that two keys share has the same bits in both, which
        is how the engine knows that it goes on.
        """
        return self.a4 * (self.scheme().from_a4(self.tonic(octave)) * interval).ratio


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone that sounds: its degree in the key, its exact interval above the lowest octave's tonic, its pitch."""

    degree: str
    note: Note
    interval: Interval
    hz: float
    cents_from_equal: float
    level_db: float


@dataclass(frozen=True, slots=True)
class _Part:
    semitones: int
    interval: Interval
    level_db: float


def tones_of(harmony: Harmony) -> tuple[Tone, ...]:
    """Work out the tones that a harmony sounds, from low to high, each pitch once."""
    shape = shape_named(harmony.shape)
    held = harmony.held
    if held is not None:
        parts = _held_parts(harmony, held)
    else:
        parts = _free_parts(harmony) if shape.free else _chord_parts(harmony, shape.roles)
    start = harmony.tonic(harmony.octave)
    distance = harmony.scheme().from_a4(start)
    found: dict[int, Tone] = {}
    for up in range(harmony.octaves if shape.repeats and held is None else 1):
        for part in parts:
            raised = _raised(part, up, harmony.slope_db)
            found[raised.semitones] = _tone(harmony, raised, start, distance)
    return tuple(found[semitones] for semitones in sorted(found))


def intervals_of(harmony: Harmony, *semitones: int) -> tuple[Interval, ...]:
    """Intervals from the tonic to tones so many semitones above it, as the tuning and the alternatives have them."""
    scheme, key = harmony.scheme(), harmony.tuned_key()
    return tuple(scheme.interval(key, number) for number in semitones)


def chord_intervals(harmony: Harmony) -> tuple[tuple[Member, int, Interval], ...]:
    """Members of the chord with their semitones and interval above the tonic."""
    if harmony.held is not None:
        return harmony.held.members
    scheme, key, root = harmony.scheme(), harmony.tuned_key(), harmony.chord_degree
    choice = _chosen_seventh(harmony)
    pure = scheme.pure_chords and root != 0
    base = scheme.interval(key, root)
    return tuple(
        (m, root + m.semitones, base * m.interval if pure else scheme.interval(key, root + m.semitones))
        for m in chord_on(key.mode, root, choice)
    )


def _chosen_seventh(harmony: Harmony) -> Interval | None:
    named = {a.name: a.interval for a in harmony.key.mode.alternatives if a.semitones == 10}
    chosen = [named[name] for name in harmony.alternatives if name in named]
    return chosen[-1] if chosen else None


def _chord_parts(harmony: Harmony, roles: tuple[Role, ...]) -> list[_Part]:
    return [
        _Part(semitones, interval, _levels(harmony)[member.role])
        for member, semitones, interval in chord_intervals(harmony)
        if member.role in roles
    ]


def _free_parts(harmony: Harmony) -> list[_Part]:
    levels = dict(zip((0, 2, 4, 6), _levels(harmony), strict=True))
    tones = harmony.key.mode.tones
    chosen = sorted(set(harmony.free)) or [0]
    return [
        _Part(n, interval, levels.get(tones[n % 12].step, 0.0) + harmony.slope_db * (n // 12))
        for n, interval in zip(chosen, intervals_of(harmony, *chosen), strict=True)
    ]


def _held_parts(harmony: Harmony, held: HeldChord) -> list[_Part]:
    levels = _levels(harmony)
    return [_Part(n, interval, levels[held.role_of(n)] + harmony.slope_db * (n // 12)) for n, interval in held.voices]


def _levels(harmony: Harmony) -> tuple[float, float, float, float]:
    return (0.0, harmony.third_db, harmony.fifth_db, harmony.seventh_db)


def _raised(part: _Part, octaves: int, slope_db: float) -> _Part:
    if not octaves:
        return part
    return _Part(part.semitones + 12 * octaves, part.interval * OCTAVE**octaves, part.level_db + slope_db * octaves)


def _tone(harmony: Harmony, part: _Part, start: Note, distance: Interval) -> Tone:
    key = harmony.key
    note = note_at(key.spell(part.semitones), start.midi + part.semitones)
    hz = harmony.a4 * (distance * part.interval).ratio
    return Tone(
        degree=key.label(part.semitones),
        note=note,
        interval=part.interval,
        hz=hz,
        cents_from_equal=cents_of(hz / note.equal_hz(harmony.a4)),
        level_db=part.level_db,
    )


def _within(thing: str, value: float, limits: tuple[float, float], unit: str = "") -> None:
    low, high = limits
    if not low <= value <= high:
        raise OutOfRangeError(thing, value, f"{low:g} to {high:g}{unit}")
