"""Keys: a tonic and a mode, which spell and label all twelve tones."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from firmware.errors import UnknownNameError
from firmware.music.modes import Mode, mode_named
from firmware.music.notes import LETTER_SEMITONES, LETTERS, NAMES, PitchName, parse_pitch_name

KNOB_ORDERS = ("fifths", "semitones")
"""How the twelve tonics may lie on the knob."""

TONICS: tuple[PitchName, ...] = tuple(
    PitchName(letter, alter) for alter, letters in ((-1, "CGDAEB"), (0, "FCGDAEB"), (1, "FC")) for letter in letters
)
"""Tonics of the fifteen major key signatures in order of fifths, C♭ to C♯."""

ALL_TONICS: tuple[PitchName, ...] = (*TONICS, *(PitchName(letter, 1) for letter in "GDA"))
"""Those, and the ones that minor and other modes need beside them: G♯ minor has five sharps."""

_DEGREE = re.compile(r"(?P<sign>[b♭#♯]?)(?P<number>[1-9][0-9]?)")


@dataclass(frozen=True, slots=True)
class Key:
    """A tonic and a mode; it spells every tone that sounds in it."""

    tonic: PitchName
    mode: Mode

    @property
    def text(self) -> str:
        """The key in words, B♭ major."""
        return f"{self.tonic.text} {self.mode.title}"

    @property
    def signature(self) -> int:
        """Sharps (positive) or flats (negative) of its key signature; beyond seven it is theory only."""
        return self.tonic.fifths + self.mode.signature

    def spell(self, semitones: int) -> PitchName:
        """Name the tone this many semitones above the tonic (any whole number; octaves fall away)."""
        tone = self.mode.tones[semitones % 12]
        letter = (LETTERS.index(self.tonic.letter) + tone.step) % 7
        alter = self.tonic.semitones + tone.semitones - LETTER_SEMITONES[letter]
        return PitchName(LETTERS[letter], (alter + 6) % 12 - 6)

    def label(self, semitones: int) -> str:
        """Degree of the tone this many semitones above the tonic, as the mode counts it."""
        return self.mode.tones[semitones % 12].label

    def scale(self) -> tuple[PitchName, ...]:
        """Return the names of the scale from the tonic up."""
        return tuple(self.spell(semitones) for semitones in self.mode.scale)


def key_of(tonic: str | PitchName, mode: str | Mode = "major") -> Key:
    """Make a key from names: key_of("Bb", "major")."""
    name = parse_pitch_name(tonic) if isinstance(tonic, str) else tonic
    if abs(name.alter) > 1:
        raise UnknownNameError("tonic", name.text, NAMES)
    return Key(name, mode_named(mode) if isinstance(mode, str) else mode)


def semitones_of(key: Key, degree: str) -> int:
    """Semitones above the tonic of a degree as the mode counts it: 5, b3, ♯4; 8 to 14 lie in the next octave.

    Raises
    ------
    UnknownNameError
        If the mode has no such degree.
    """
    labels = {tone.label: tone.semitones for tone in key.mode.tones}
    found = _DEGREE.fullmatch(degree.strip())
    if found is not None:
        octaves, step = divmod(int(found["number"]) - 1, 7)
        sign = {"b": "♭", "#": "♯"}.get(found["sign"], found["sign"])
        if octaves < 2 and f"{sign}{step + 1}" in labels:
            return labels[f"{sign}{step + 1}"] + 12 * octaves
    raise UnknownNameError("degree", degree, labels)


def knob_tonics(mode: Mode, order: str = "fifths") -> tuple[PitchName, ...]:
    """Return the twelve tonics on the knob: of two spellings the one with fewer accidentals, flats if equal."""
    if order not in KNOB_ORDERS:
        raise UnknownNameError("order of tonics", order, KNOB_ORDERS)
    tonics = sorted((usual_tonic(semitones, mode) for semitones in range(12)), key=lambda name: name.fifths)
    return tuple(sorted(tonics, key=lambda name: name.semitones)) if order == "semitones" else tuple(tonics)


def turned(key: Key, steps: int, order: str = "fifths") -> Key:
    """Return the key after turning the knob by some detents; it goes round and round."""
    tonics = knob_tonics(key.mode, order)
    here = next(index for index, name in enumerate(tonics) if name.semitones == key.tonic.semitones)
    return replace(key, tonic=tonics[(here + steps) % 12])


def with_mode(key: Key, mode: Mode) -> Key:
    """Return the key on the same tonic in another mode, respelled when that needs more than seven accidentals."""
    changed = Key(key.tonic, mode)
    return changed if abs(changed.signature) <= 7 else Key(usual_tonic(key.tonic.semitones, mode), mode)


def usual_tonic(semitones: int, mode: Mode) -> PitchName:
    """Name the tonic this many semitones above C so that its signature is short; of equals the flat one."""
    names = (PitchName(letter, alter) for letter in LETTERS for alter in (-1, 0, 1))
    same = (name for name in names if name.semitones == semitones)
    return min(same, key=lambda name: (abs(Key(name, mode).signature), abs(name.alter), name.fifths))
