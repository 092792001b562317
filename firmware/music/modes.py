"""Modes: which tones belong, how each of the twelve is called, and its just ratio above the tonic."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from firmware.errors import UnknownNameError
from firmware.music.intervals import Interval
from firmware.music.notes import LETTER_SEMITONES
from firmware.music.ratios import ratio, source_of


@dataclass(frozen=True, slots=True)
class ScaleTone:
    """One of the twelve tones above a tonic.

    The label counts degrees of the mode itself ("3", "♯7"); step is the letter, 0 to 6 above the tonic's.
    """

    label: str
    step: int
    semitones: int
    interval: Interval
    source: str


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another just ratio for one tone, where practice differs; chosen by its name."""

    name: str
    semitones: int
    interval: Interval
    source: str


@dataclass(frozen=True, slots=True)
class Mode:
    """A mode: its scale in semitones above the tonic, and all twelve tones with their just ratios."""

    name: str
    title: str
    scale: tuple[int, ...]
    tones: tuple[ScaleTone, ...]
    alternatives: tuple[Alternative, ...]

    @property
    def signature(self) -> int:
        """Sharps (positive) or flats that its key signature has on the tonic C; harmonic and melodic as minor."""
        return _SIGNATURES[self.name]


_SIGNATURES: Mapping[str, int] = {
    "major": 0,
    "minor": -3,
    "dorian": -2,
    "phrygian": -4,
    "lydian": 1,
    "mixolydian": -1,
    "locrian": -5,
    "harmonic-minor": -3,
    "melodic-minor": -3,
    "chromatic": 0,
}

# Labels from the tonic up by semitones. A tone outside the scale is raised where it leads up to the next degree
# (the fourth, and in minor the third, sixth and seventh) and lowered elsewhere: common practice.
_MAJOR = "1 ♭2 2 ♭3 3 4 ♯4 5 ♭6 6 ♭7 7"
_LABELS: Mapping[str, str] = {
    "major": _MAJOR,
    "minor": "1 ♭2 2 3 ♯3 4 ♯4 5 6 ♯6 7 ♯7",
    "dorian": "1 ♭2 2 3 ♯3 4 ♯4 5 ♭6 6 7 ♯7",
    "phrygian": "1 2 ♯2 3 ♯3 4 ♯4 5 6 ♯6 7 ♯7",
    "lydian": "1 ♭2 2 ♭3 3 ♭4 4 5 ♭6 6 ♭7 7",
    "mixolydian": "1 ♭2 2 ♭3 3 4 ♯4 5 ♭6 6 7 ♯7",
    "locrian": "1 2 ♯2 3 ♯3 4 5 ♯5 6 ♯6 7 ♯7",
    "harmonic-minor": "1 ♭2 2 3 ♯3 4 ♯4 5 6 ♯6 ♭7 7",
    "melodic-minor": "1 ♭2 2 3 ♯3 4 ♯4 5 ♭6 6 ♭7 7",
    "chromatic": _MAJOR,
}

_TITLES: Mapping[str, str] = {
    "major": "major",
    "minor": "minor",
    "dorian": "Dorian",
    "phrygian": "Phrygian",
    "lydian": "Lydian",
    "mixolydian": "Mixolydian",
    "locrian": "Locrian",
    "harmonic-minor": "harmonic minor",
    "melodic-minor": "melodic minor",
    "chromatic": "chromatic",
}

_RATIOS = ("1/1", "16/15", "9/8", "6/5", "5/4", "4/3", "45/32", "3/2", "8/5", "5/3", "16/9", "15/8")
# The seventh 9/5 is a just minor third over the fifth, so that the minor chord on the fifth degree is pure
# (Helmholtz's minor scale); 64/45 makes a pure major chord on the lowered fifth, with 16/9 and 16/15.
_MINOR_SEVENTH: Mapping[int, str] = {10: "9/5"}
_OWN_RATIOS: Mapping[str, Mapping[int, str]] = {
    "minor": _MINOR_SEVENTH,
    "dorian": _MINOR_SEVENTH,
    "phrygian": _MINOR_SEVENTH,
    "harmonic-minor": _MINOR_SEVENTH,
    "melodic-minor": _MINOR_SEVENTH,
    "locrian": {6: "64/45"},
}

# Choices by semitones. The sixth 27/16 is a just fifth over the second 9/8.
_CHOICES: tuple[tuple[int, str, tuple[str, ...]], ...] = (
    (2, "second", ("9/8", "10/9")),
    (9, "sixth", ("5/3", "27/16")),
    (10, "seventh", ("16/9", "9/5", "7/4")),
)
_RAISED_FOURTH = (6, "raised-fourth", ("45/32", "7/5"))
_LOWERED_FIFTH = (6, "lowered-fifth", ("64/45", "10/7"))

ALIASES: Mapping[str, str] = {"ionian": "major", "aeolian": "minor"}
"""Other names under which `mode_named` knows a mode."""


def _tone(semitones: int, label: str, text: str) -> ScaleTone:
    return ScaleTone(label, int(label[-1]) - 1, semitones, ratio(text), source_of(text))


def _alternatives(tritone_step: int) -> tuple[Alternative, ...]:
    choices = (*_CHOICES, _RAISED_FOURTH if tritone_step == 3 else _LOWERED_FIFTH)
    return tuple(
        Alternative(f"{word}-{text}", semitones, ratio(text), source_of(text))
        for semitones, word, texts in choices
        for text in texts
    )


def _mode(name: str) -> Mode:
    labels = _LABELS[name].split()
    own = _OWN_RATIOS.get(name, {})
    tones = tuple(_tone(n, label, own.get(n, _RATIOS[n])) for n, label in enumerate(labels))
    in_scale = range(12) if name == "chromatic" else (n for n, label in enumerate(labels) if len(label) == 1)
    return Mode(name, _TITLES[name], tuple(in_scale), tones, _alternatives(tones[6].step))


MODES: tuple[Mode, ...] = tuple(_mode(name) for name in _LABELS)

ALTERNATIVE_NAMES: tuple[str, ...] = tuple(dict.fromkeys(a.name for mode in MODES for a in mode.alternatives))
"""Names of all alternatives of all modes."""

MAJOR_SCALE = LETTER_SEMITONES


def mode_named(name: str) -> Mode:
    """Find a mode by its name; ionian is major and aeolian is minor; a space is as good as a hyphen."""
    plain = name.strip().lower().replace(" ", "-")
    wanted = ALIASES.get(plain, plain)
    for mode in MODES:
        if mode.name == wanted:
            return mode
    raise UnknownNameError("mode", name, (*(mode.name for mode in MODES), *ALIASES))
