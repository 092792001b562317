"""German note names: H is the natural and B the flat, -is raises and -es lowers. Common practice.

Signs are not read: Bb and B♭ are no German names, so that an English B♭ is never taken for the note below it.
"""

from __future__ import annotations

from collections.abc import Mapping

from firmware.music.note_names import NoteNames, table_of
from firmware.music.notes import PitchName

_B_FLAT = PitchName("B", -1)


def _write(name: PitchName) -> str:
    if name == _B_FLAT:
        return "B"
    stem = "H" if name.letter == "B" else name.letter
    if name.alter >= 0:
        return stem + "is" * name.alter
    # Es and As: the vowel of the stem takes the place of the e.
    first = "s" if stem in "EA" else "es"
    return stem + first + "es" * (-name.alter - 1)


_TEXTS = table_of(_write)
_BY_TEXT: Mapping[str, PitchName] = {text.lower(): name for name, text in _TEXTS.items()}

GERMAN = NoteNames(
    name="german",
    title="German",
    texts=_TEXTS,
    plains=_TEXTS,
    reads=lambda text: _BY_TEXT.get(text.strip().lower()),
)
