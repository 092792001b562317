"""Which chord of the key is held: the one whose members are heard, with nothing heard beside them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from firmware.hearing.chord import FAINTEST, Target, lowest_tones
from firmware.hearing.chord_spectrum import ChordSpectrum
from firmware.music.chords import Role
from firmware.music.harmony import Harmony, chord_intervals
from firmware.music.modes import MAJOR_SCALE
from firmware.music.naming import targets_of

NAMING_OCTAVE: Final = 4
SHAPES_HEARD: Final = ("triad", "seventh")
"""Shapes that are looked for when it is not told which chord sounds."""

STRANGER: Final = 1.5
"""What a tone outside the chord costs, in tones of the same strength."""

LACKING: Final = 0.4
"""What a member without a tone of its own costs; it may be hidden, so this is little."""

BASS_IS_ROOT: Final = 0.25
"""What the root in the bass is worth; it decides between chords that share their tones."""

LEAST_TONES: Final = 2
"""A chord is named from so many tones."""

QUALITIES: Final[Mapping[tuple[int, ...], str]] = {
    (4, 7): "major",
    (3, 7): "minor",
    (3, 6): "diminished",
    (4, 8): "augmented",
    (4, 7, 10): "dominant seventh",
    (4, 7, 11): "major seventh",
    (3, 7, 10): "minor seventh",
    (3, 7, 11): "minor major seventh",
    (3, 6, 10): "half-diminished seventh",
    (3, 6, 9): "diminished seventh",
    (4, 8, 11): "augmented major seventh",
    (7,): "open fifth",
    (): "unison",
}
"""Names of chords by the semitones of their members over the root: common practice."""


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord of a key: its name, the degree of its root, and where each member should be."""

    name: str
    degree: str
    targets: tuple[Target, ...]
    semitones: tuple[int, ...]
    """Members above the tonic, 0 to 11, the root first."""


def chord_of(harmony: Harmony) -> Chord:
    """Describe the chord that a harmony says; its shape must be made of chord members.

    Unison and octaves are the root alone; a free shape counts as a triad. A held chord counts with all its members.
    """
    roles = (
        4 if harmony.held is not None else {"unison": 1, "octaves": 1, "fifth": 0, "seventh": 4}.get(harmony.shape, 3)
    )
    wanted = (Role.ROOT, Role.FIFTH) if harmony.shape == "fifth" and not harmony.held else tuple(Role)[:roles]
    members = [(m, n, interval) for m, n, interval in chord_intervals(harmony) if m.role in wanted]
    key = harmony.key
    name = QUALITIES.get(tuple(m.semitones for m, _, _ in members if m.role), "chord")
    targets = tuple(
        Target(key.label(n), key.spell(n).text, harmony.hz_of(NAMING_OCTAVE, interval)) for _, n, interval in members
    )
    root = key.spell(harmony.chord_degree)
    return Chord(f"{root.text} {name}", key.label(harmony.chord_degree), targets, tuple(n % 12 for _, n, _ in members))


def chords_of(harmony: Harmony) -> tuple[Chord, ...]:
    """All triads and seventh chords on the degrees of the key, tuned as the harmony says."""
    mode = harmony.key.mode
    scale = MAJOR_SCALE if len(mode.scale) > 7 else mode.scale
    return tuple(
        chord_of(replace(harmony, shape=shape, chord_degree=degree, held=None))
        for shape in SHAPES_HEARD
        for degree in scale
    )


def find_chord(spectrum: ChordSpectrum, harmony: Harmony) -> Chord | None:
    """Find which chord of the key is held.

    Parameters
    ----------
    spectrum : ChordSpectrum
        Of 1 s or more of the chord.
    harmony : Harmony
        Key, tuning and reference; its own chord does not count.

    Returns
    -------
    Chord or None
        None when fewer than `LEAST_TONES` tones of the key are heard for themselves.

    Notes
    -----
    All twelve tones of the key are looked for from low to high, each by a fundamental that is no partial of a lower
    one. A candidate gains the strength of its members that are there and pays for what is there beside them.
    """
    strengths = _strengths(spectrum, harmony)
    if len(strengths) < LEAST_TONES:
        return None
    bass = min(strengths, key=lambda n: strengths[n][0])
    return max(chords_of(harmony), key=lambda chord: _score(chord, strengths, bass))


def _strengths(spectrum: ChordSpectrum, harmony: Harmony) -> dict[int, tuple[float, float]]:
    """For each tone that is there: its lowest fundamental in Hz, and its strength from 0 to 1 on a scale of dB."""
    plain = replace(harmony, shape="unison", chord_degree=0, held=None)
    intervals = targets_of(plain)
    targets = [Target(str(n), "", plain.hz_of(NAMING_OCTAVE, interval)) for n, interval in enumerate(intervals)]
    strongest = float(spectrum.power.max(initial=0.0))
    found: dict[int, tuple[float, float]] = {}
    for n, hz in enumerate(lowest_tones(spectrum, targets)):
        line = None if hz is None else spectrum.line(hz)
        if hz is not None and line is not None:
            share = float(spectrum.power[round(line.hz / spectrum.bin_hz)]) / strongest
            found[n] = (hz, 1 - math.log10(share) / math.log10(FAINTEST))
    return found


def _score(chord: Chord, strengths: Mapping[int, tuple[float, float]], bass: int) -> float:
    score = BASS_IS_ROOT * (bass == chord.semitones[0])
    for n, (_, strength) in strengths.items():
        score += strength if n in chord.semitones else -STRANGER * strength
    return score - LACKING * sum(n not in strengths for n in chord.semitones)
