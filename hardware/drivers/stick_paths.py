"""Paths on the stick: they never leave its folder, by whatever trick."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from firmware.errors import BadFileError

FORBIDDEN: Final = frozenset('<>:"|?*\\') | frozenset(map(chr, range(32))) | {"\x7f"}
"""Characters that FAT and exFAT, which sticks come with, refuse in names (Microsoft's exFAT specification, 7.7.3)."""

ALLOWED: Final = "a path inside the KEELNOTE folder, with forward slashes and names that a FAT stick can hold"


def inside(root: Path, path: str) -> Path:
    """Place of `path` under `root`.

    Raises
    ------
    BadFileError
        If it is absolute, climbs out with "..", passes through a link or holds a name that FAT refuses.
    """
    parts = path.split("/")
    if any(not _fits(part) for part in parts):
        raise BadFileError("path", path, ALLOWED)
    place = root
    for part in parts:
        place /= part
        if place.is_symlink():
            raise BadFileError("path", path, f"{ALLOWED}; {part!r} is a link")
    return place


def _fits(name: str) -> bool:
    try:
        length = len(name.encode("utf-8"))
    except UnicodeEncodeError:
        return False
    return 0 < length <= 255 and name not in {".", ".."} and name[-1] not in " ." and FORBIDDEN.isdisjoint(name)
