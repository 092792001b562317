"""The user's own grooves and pieces on the stick; a broken one is reported and left out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final, TypeVar

from firmware.errors import BadFileError, KeelnoteError
from firmware.music.groove import Groove
from firmware.plan.checked_toml import decode
from firmware.plan.groove_file import read_groove
from firmware.plan.midi_file import MOST_BYTES, read_midi
from firmware.plan.midi_rhythm import groove_of_midi, program_of_midi
from firmware.ports import Stick
from firmware.pulse import PLAIN, Piece, Rhythms

GROOVES: Final = "grooves"
PIECES: Final = "plans"
TEXT: Final = (".toml",)
MIDI: Final = (".mid", ".midi")
MOST_FILES: Final = 64
"""Files of a folder that are read; the knob goes through all of them."""
LONGEST_NAME: Final = 60

Problems = tuple[KeelnoteError, ...]
T = TypeVar("T")


def rhythms_on(stick: Stick) -> tuple[Rhythms, Problems]:
    """Read grooves/*.toml and *.mid, and the pieces plans/*.mid; what can't be used comes as problems."""
    grooves, bad_grooves = _read(stick, GROOVES, TEXT + MIDI, _groove)
    pieces, bad_pieces = _read(stick, PIECES, MIDI, _piece)
    return Rhythms(grooves, pieces), (*bad_grooves, *bad_pieces)


def _read(
    stick: Stick, folder: str, kinds: tuple[str, ...], make: Callable[[bytes, str, str], tuple[T | None, Problems]]
) -> tuple[tuple[T, ...], Problems]:
    found: list[T] = []
    problems: list[KeelnoteError] = []
    for number, name in enumerate(_names(stick, folder, kinds)):
        path = f"{folder}/{name}"
        if number >= MOST_FILES:
            problems.append(BadFileError(path, "one more", f"at most {MOST_FILES} such files in {folder}"))
            break
        try:
            made, reasons = make(stick.read_bytes(path, MOST_BYTES + 1) or b"", path, _stem(name, path))
        except KeelnoteError as error:
            made, reasons = None, (error,)
        problems += reasons
        if made is not None:
            found.append(made)
    return tuple(found), tuple(problems)


def _names(stick: Stick, folder: str, kinds: tuple[str, ...]) -> Iterator[str]:
    try:
        names = stick.names(folder)
    except KeelnoteError:
        return
    # Computers leave files beside others' whose names begin with a dot.
    yield from (name for name in names if name.lower().endswith(kinds) and not name.startswith("."))


def _stem(name: str, path: str) -> str:
    stem = name[: name.rindex(".")]
    if not stem.isprintable() or len(stem) > LONGEST_NAME or stem == PLAIN:
        allowed = f"a name of at most {LONGEST_NAME} letters, and not {PLAIN}"
        raise BadFileError(path, stem, allowed, "Rename the file.")
    return stem


def _groove(data: bytes, path: str, name: str) -> tuple[Groove | None, Problems]:
    if path.lower().endswith(MIDI):
        return groove_of_midi(read_midi(data, path), path, name), ()
    text, problems = decode(data, path)
    groove, more = read_groove(text, path, name)
    return (None if problems else groove), (*problems, *more)


def _piece(data: bytes, path: str, name: str) -> tuple[Piece | None, Problems]:
    return Piece(name, program_of_midi(read_midi(data, path), path, name)), ()
