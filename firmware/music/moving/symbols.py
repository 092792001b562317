"""Chords as they are written: Roman numerals in a key (ii6, V7/V), or names (B♭, E♭m7, F7/A)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from firmware.errors import UnknownNameError
from firmware.music.intervals import Interval
from firmware.music.keys import Key
from firmware.music.modes import MAJOR_SCALE
from firmware.music.moving.qualities import BY_SEMITONES, BY_SIGN, Quality
from firmware.music.notes import parse_pitch_name

FORMS: Final = (
    "Roman numerals I to VII (small for minor) with b or #, °, ø or +, maj7, figures 6, 64, 7, 65, 43, 42 and /V; or "
    "names such as Bb, Ebm7, F7, Cmaj7, Gsus4, A/C#"
)

NUMERALS: Final = ("I", "II", "III", "IV", "V", "VI", "VII")

FIGURES: Final[Mapping[str, tuple[bool, int]]] = {
    "": (False, 0),
    "6": (False, 1),
    "64": (False, 2),
    "7": (True, 0),
    "65": (True, 1),
    "43": (True, 2),
    "42": (True, 3),
    "2": (True, 3),
}
"""Figured bass: whether there is a seventh, and which member is in the bass. Common practice."""

_SIGNS: Final[Mapping[str, int]] = {"b": -1, "♭": -1, "#": 1, "♯": 1}
_ROMAN: Final = re.compile(
    r"(?P<sign>[b♭#♯]?)(?P<numeral>VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(?P<kind>maj|M|°|o|ø|\+|)(?P<figures>\d*)"
)
_NAME: Final = re.compile(r"(?P<root>[A-G][b♭#♯]?)(?P<sign>[^/]*)(?:/(?P<bass>[A-G][b♭#♯]?))?")


@dataclass(frozen=True, slots=True)
class ChordSymbol:
    """A chord of a key: its root in semitones above the tonic (0 to 11), its kind, and the bass above the root."""

    text: str
    root: int
    quality: Quality
    bass: int = 0

    @property
    def members(self) -> tuple[tuple[int, Interval], ...]:
        """Members as (semitones above the tonic 0 to 11, just interval above the root)."""
        return tuple(((self.root + n) % 12, interval) for n, interval in self.quality.members)


def chord_symbol(text: str, key: Key) -> ChordSymbol:
    """Read one chord in a key.

    Raises
    ------
    UnknownNameError
        If it is neither a Roman numeral nor the name of a chord.
    """
    words = text.strip()
    head, _, target = words.partition("/")
    if is_numeral(words):
        return _roman(words, head, target, key)
    found = _NAME.fullmatch(words)
    if found is None or found["sign"] not in BY_SIGN:
        raise UnknownNameError("chord", text, (FORMS,))
    root = parse_pitch_name(found["root"]).semitones
    bass = parse_pitch_name(found["bass"]).semitones if found["bass"] else root
    quality = BY_SIGN[found["sign"]]
    if (bass - root) % 12 not in quality.semitones:
        raise UnknownNameError("bass of the chord", text, ("one of its members",))
    return ChordSymbol(words, (root - key.tonic.semitones) % 12, quality, (bass - root) % 12)


def is_numeral(text: str) -> bool:
    """Whether a chord is written as a Roman numeral, which every language does in the same way."""
    return _ROMAN.fullmatch(text.strip().partition("/")[0]) is not None


def _roman(text: str, head: str, target: str, key: Key) -> ChordSymbol:
    scale: tuple[int, ...] = MAJOR_SCALE if len(key.mode.scale) > 7 else key.mode.scale
    base = 0
    if target:
        on = _ROMAN.fullmatch(target)
        if on is None or on["kind"] or on["figures"]:
            raise UnknownNameError("chord", text, (FORMS,))
        base = _degree(on, scale)
        # A chord on another degree is one of that degree's own major or minor key.
        scale = MAJOR_SCALE if on["numeral"].isupper() else (0, 2, 3, 5, 7, 8, 10)
    found = _ROMAN.fullmatch(head)
    if found is None or found["figures"] not in FIGURES:
        raise UnknownNameError("chord", text, (FORMS,))
    root = _degree(found, scale)
    seventh, inversion = FIGURES[found["figures"]]
    quality = _quality(found, root, scale, seventh=seventh)
    return ChordSymbol(text, (base + root) % 12, quality, quality.semitones[inversion])


def _degree(found: re.Match[str], scale: tuple[int, ...]) -> int:
    numeral = found["numeral"]
    semitones = scale[NUMERALS.index(numeral.upper())] + _SIGNS.get(found["sign"], 0)
    # The leading tone of a minor key carries vii° although the scale has the low seventh: common practice.
    if numeral == "vii" and found["kind"] in ("°", "o", "ø") and not found["sign"] and semitones == 10:
        semitones = 11
    return semitones % 12


def _quality(found: re.Match[str], root: int, scale: tuple[int, ...], *, seventh: bool) -> Quality:
    third = 4 if found["numeral"].isupper() else 3
    fifth = {"°": 6, "o": 6, "ø": 6, "+": 8}.get(found["kind"], 7)
    if found["kind"] == "ø":
        return BY_SIGN["ø7"]
    top = {"°": 9, "o": 9, "maj": 11, "M": 11}.get(found["kind"]) or _seventh(root, scale, third)
    made = BY_SEMITONES.get((0, third, fifth, top) if seventh else (0, third, fifth))
    if made is None:
        raise UnknownNameError("chord", found.string, (FORMS,))
    return made


def _seventh(root: int, scale: tuple[int, ...], third: int) -> int:
    """Seventh that the key has over a root of its scale with its own third; else the minor seventh."""
    if root not in scale:
        return 10
    place = scale.index(root)
    own_third, own_seventh = ((scale[(place + up) % 7] - root) % 12 for up in (2, 6))
    return own_seventh if own_third == third else 10
