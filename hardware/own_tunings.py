"""The user's own tunings on the stick; a broken one is reported and left out, or the one before it is used."""

from __future__ import annotations

from typing import Final

from firmware.errors import BadFileError, KeelnoteError
from firmware.music.tunings import TUNINGS
from firmware.plan.checked_toml import decode
from firmware.plan.tuning_file import OwnTuning, read_tuning
from firmware.ports import Stick

FOLDER: Final = "tunings"
KIND: Final = ".toml"
BEFORE: Final = ".old"
MOST_FILES: Final = 64
MOST_BYTES: Final = 100_000
LONGEST_NAME: Final = 40

_BUILT_IN: Final = tuple(tuning.name for tuning in TUNINGS)

Problems = tuple[KeelnoteError, ...]


def tunings_on(stick: Stick) -> tuple[tuple[OwnTuning, ...], Problems]:
    """Read tunings/*.toml; each is called as its file, and used whole or not at all."""
    found: list[OwnTuning] = []
    problems: list[KeelnoteError] = []
    stems = _stems(stick)
    for stem in stems[:MOST_FILES]:
        own, reasons = _newest(stick, stem)
        problems += reasons
        if own is not None:
            found.append(own)
    if len(stems) > MOST_FILES:
        problems.append(BadFileError(f"{FOLDER}/{stems[MOST_FILES]}", "one more", f"at most {MOST_FILES} tunings"))
    return tuple(found), tuple(problems)


def _stems(stick: Stick) -> list[str]:
    """Names of tunings; one whose newest file a power cut took still has the one before."""
    try:
        names = stick.names(FOLDER)
    except KeelnoteError:
        return []
    plain = (name.removesuffix(BEFORE) for name in names if not name.startswith("."))
    return sorted({name[: -len(KIND)] for name in plain if name.lower().endswith(KIND)})


def _newest(stick: Stick, stem: str) -> tuple[OwnTuning | None, Problems]:
    path = f"{FOLDER}/{stem}{KIND}"
    own, problems = _read(stick, path, stem)
    if own is not None:
        return own, ()
    before, _ = _read(stick, path + BEFORE, stem)
    if before is None:
        return None, problems or (BadFileError(path, "nothing", "a tuning"),)
    return before, (
        *problems,
        BadFileError(path, "damaged", "a tuning", f"The one before it, {path}{BEFORE}, is used."),
    )


def _read(stick: Stick, path: str, name: str) -> tuple[OwnTuning | None, Problems]:
    try:
        data = stick.read_bytes(path, MOST_BYTES + 1)
        if data is None:
            return None, ()
        if len(data) > MOST_BYTES:
            raise BadFileError(path, f"{len(data)} bytes", f"a tuning of at most {MOST_BYTES} bytes")
        if name in _BUILT_IN or len(name) > LONGEST_NAME or not name.isprintable():
            allowed = f"a name of at most {LONGEST_NAME} letters that no tuning of the box has"
            raise BadFileError(path, name, allowed, "Rename the file.")
    except KeelnoteError as error:
        return None, (error,)
    text, damage = decode(data, path)
    own, problems = read_tuning(text, path, name)
    return (None if damage else own), (*damage, *problems)
