"""What may be said of a box in report.txt: versions and kinds, never what tells one box from another."""

from __future__ import annotations

import platform
import re
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path
from typing import Final

from hardware.board.parts import Board

MODEL: Final = "proc/device-tree/model"
SYSTEM: Final = "etc/os-release"

PACKAGES: Final = ("keelnote", "numpy", "soundfile", "sounddevice", "gpiozero", "luma.oled", "Pillow")

LONGEST: Final = 80
"""No version needs more; a file that holds something else is cut."""


def board_facts(board: Board, root: Path = Path("/")) -> tuple[tuple[str, str], ...]:
    """Name and value of each; `root` is where the system's files are.

    Neither the processor's serial number, nor a network address, nor the machine's name is among them.
    """
    return tuple((name, value) for name, value in _facts(board, root) if value)


def _facts(board: Board, root: Path) -> Iterator[tuple[str, str]]:
    yield "board", f"{board.title}, variant {board.variant.name}: {board.variant.title}"
    yield "computer", _first_line(root / MODEL)
    yield "system", _system(root / SYSTEM)
    yield "kernel", f"{platform.release()} {platform.machine()}"
    yield "Python", platform.python_version()
    for package in PACKAGES:
        yield package, _version(package)


def _first_line(path: Path) -> str:
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
    return text.split("\n", maxsplit=1)[0].strip("\0 ")[:LONGEST]


def _system(path: Path) -> str:
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
    named = re.search(r'^PRETTY_NAME="?([^"\n]*)', text, re.MULTILINE)
    return named.group(1)[:LONGEST] if named else ""


def _version(package: str) -> str:
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:
        return ""
