"""English note names: C D E F G A B with ♭ and ♯. The box reckons in them, and its data files are written in them."""

from __future__ import annotations

from firmware.errors import KeelnoteError
from firmware.music.note_names import NoteNames, table_of
from firmware.music.notes import PitchName, parse_pitch_name


def _read(text: str) -> PitchName | None:
    try:
        return parse_pitch_name(text)
    except KeelnoteError:
        return None


ENGLISH = NoteNames(
    name="english",
    title="English",
    texts=table_of(lambda name: name.text),
    plains=table_of(lambda name: name.plain),
    reads=_read,
)
