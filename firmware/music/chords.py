"""Chords on any degree, and the shapes a drone can have."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from firmware.errors import UnknownNameError
from firmware.music.intervals import UNISON, Interval
from firmware.music.modes import MAJOR_SCALE, Mode
from firmware.music.ratios import ratio


class Role(IntEnum):
    """What a tone is to its chord."""

    ROOT = 0
    THIRD = 1
    FIFTH = 2
    SEVENTH = 3


@dataclass(frozen=True, slots=True)
class Shape:
    """Which members of the chord a drone sounds; a free shape takes degrees of the key instead."""

    name: str
    title: str
    roles: tuple[Role, ...]
    repeats: bool = True
    free: bool = False


SHAPES: tuple[Shape, ...] = (
    Shape("unison", "unison", (Role.ROOT,), repeats=False),
    Shape("octaves", "octaves", (Role.ROOT,)),
    Shape("fifth", "open fifth", (Role.ROOT, Role.FIFTH)),
    Shape("triad", "triad", (Role.ROOT, Role.THIRD, Role.FIFTH)),
    Shape("seventh", "seventh chord", tuple(Role)),
    Shape("free", "free", (), free=True),
)


@dataclass(frozen=True, slots=True)
class Member:
    """One chord member: semitones and pure interval above the chord's root."""

    role: Role
    semitones: int
    interval: Interval


# Members from a pure root by their size in semitones. The diminished fifth and seventh are two and three just minor
# thirds as the scale itself stacks them (64/45 * 6/5 = 128/75), the augmented fifth is two just major thirds.
_THIRDS: Mapping[int, Interval] = {3: ratio("6/5"), 4: ratio("5/4")}
_FIFTHS: Mapping[int, Interval] = {6: ratio("64/45"), 7: ratio("3/2"), 8: ratio("25/16")}
_SEVENTHS: Mapping[int, Interval] = {9: ratio("128/75"), 10: ratio("16/9"), 11: ratio("15/8")}
# Over a minor third and a pure fifth the minor seventh is a just minor third above the fifth.
_MINOR_CHORD_SEVENTH = ratio("9/5")


@dataclass(frozen=True, slots=True)
class HeldChord:
    """A chord that a progression has led to: what it is called, its tones in the key, and each voice as it sounds.

    Roots and members count in semitones above the tonic, voices above the tonic of the lowest octave; every interval
    is the one from that tonic.
    """

    name: str
    root: int
    members: tuple[tuple[Member, int, Interval], ...]
    voices: tuple[tuple[int, Interval], ...]
    drift: float = 0.0
    """Cents by which the chord lies above its place in the key."""

    def role_of(self, semitones: int) -> Role:
        """What a voice is to the chord."""
        return next((member.role for member, n, _ in self.members if (n - semitones) % 12 == 0), Role.ROOT)


def shape_named(name: str) -> Shape:
    """Find a shape by its name."""
    for shape in SHAPES:
        if shape.name == name:
            return shape
    raise UnknownNameError("shape", name, (shape.name for shape in SHAPES))


def chord_on(mode: Mode, degree: int, seventh: Interval | None = None) -> tuple[Member, ...]:
    """Root, third, fifth and seventh of the chord on a degree, tuned from its own root.

    On a degree of the scale the members are diatonic; the chromatic mode takes them as major does. A raised degree
    is a leading tone and carries a diminished chord, any other outside the scale a major chord with minor seventh.

    Parameters
    ----------
    mode : Mode
        The mode of the key.
    degree : int
        Semitones of the root above the tonic.
    seventh : Interval, optional
        The minor seventh over a major third, 16/9 unless chosen otherwise.
    """
    third, fifth, top = _sizes(mode, degree % 12)
    if top == 10 and third == 3 and fifth == 7:
        last = _MINOR_CHORD_SEVENTH
    elif top == 10 and third == 4 and seventh is not None:
        last = seventh
    else:
        last = _SEVENTHS[top]
    return (
        Member(Role.ROOT, 0, UNISON),
        Member(Role.THIRD, third, _THIRDS[third]),
        Member(Role.FIFTH, fifth, _FIFTHS[fifth]),
        Member(Role.SEVENTH, top, last),
    )


def _sizes(mode: Mode, degree: int) -> tuple[int, int, int]:
    scale = MAJOR_SCALE if len(mode.scale) > 7 else mode.scale
    if degree not in scale:
        return (3, 6, 10) if mode.tones[degree].label.startswith("♯") else (4, 7, 10)
    place = scale.index(degree)
    third, fifth, seventh = ((scale[(place + up) % 7] - degree) % 12 for up in (2, 4, 6))
    return third, fifth, seventh
