"""What the image is made of: lists with comments, hashes of files, and the places of the cache."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Final

HERE: Final = Path(__file__).resolve().parent.parent
"""The folder image-build."""

PROJECT: Final = HERE.parent

SUITE: Final = "trixie"
"""Debian 13: systemd 257, Python 3.13, kernel 6.12 (long-term)."""

EPOCH: Final = 1764028800
"""The time of every file in the image (25 November 2025, 00:00 UTC), so that a repeated build is the same."""


def listed(path: Path) -> tuple[str, ...]:
    """Give the lines of a list without comments and blank lines."""
    lines = (line.split("#", 1)[0].strip() for line in path.read_text(encoding="utf-8").splitlines())
    return tuple(line for line in lines if line)


def hash_of(paths: Iterable[Path], *more: str) -> str:
    """Sixteen hexadecimal digits that change when any file (by its path and content) or word changes."""
    digest = hashlib.sha256()
    for path in sorted(_files(paths)):
        name = path.relative_to(PROJECT).as_posix() if path.is_relative_to(PROJECT) else path.name
        digest.update(f"{name}\0{path.stat().st_mode & 0o111:o}\0".encode())
        digest.update(hashlib.sha256(path.read_bytes()).digest())
    for word in more:
        digest.update(f"\1{word}".encode())
    return digest.hexdigest()[:16]


def _files(paths: Iterable[Path]) -> Iterable[Path]:
    for path in paths:
        if path.is_dir():
            yield from (inner for inner in path.rglob("*") if inner.is_file() and "__pycache__" not in inner.parts)
        else:
            yield path


def cache_folder() -> Path:
    """Where slow results wait for the next build: $KEELNOTE_CACHE, or keelnote-image in the user's cache."""
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    folder = Path(os.environ.get("KEELNOTE_CACHE") or home / "keelnote-image")
    folder.mkdir(parents=True, exist_ok=True)
    return folder
