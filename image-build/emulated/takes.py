"""Takes on a stick, decoded on this machine and compared with what the microphone gave."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from emulated.sticks import copied

KEY: Final = 24
"""Samples by which a place in the signal is found: its code has 129 values, so that no two places are alike."""

GRAVE: Final = ("Orphan", "Unreadable", "Bad short file name", "Contains a free cluster", "share clusters", "duplicate")
"""Words of fsck.vfat for damage that costs contents; a dirty bit or a chain that is longer than its file does not."""

Signal = npt.NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Piece:
    """A run of samples that is in the take and in the signal, sample for sample."""

    in_take: int
    in_signal: int
    length: int


def takes_on(stick: Path, scratch: Path) -> dict[str, Signal]:
    """Decode every take on a stick: its path, and 24-bit samples of the first channel; parts are put together.

    Raises
    ------
    soundfile.LibsndfileError
        If one of them does not decode.
    """
    import soundfile  # noqa: PLC0415 - only checks of takes need it

    shutil.rmtree(scratch, ignore_errors=True)
    parts: dict[str, list[tuple[int, Path]]] = {}
    for path in copied(stick, scratch):
        found = re.fullmatch(r"(take-\d+)(?:-(\d+))?\.flac", path.name)
        if found:
            parts.setdefault(f"{path.parent.name}/{found[1]}", []).append((int(found[2] or 1), path))
    takes = {}
    for name, files in parts.items():
        decoded = [soundfile.read(path, dtype="int32", always_2d=True)[0][:, 0] for _, path in sorted(files)]
        takes[name] = np.concatenate(decoded).astype(np.int32) >> 8
    return takes


def pieces(take: Signal, signal: npt.NDArray[np.int16]) -> list[Piece]:
    """Find the parts of the signal that a take is made of, in its order; one piece is a take without a gap."""
    found: list[Piece] = []
    at = 0
    while at + KEY <= len(take):
        place = _find(signal, take[at : at + KEY])
        if place < 0:
            at += KEY
            continue
        length = min(len(take) - at, len(signal) - place)
        differs = np.flatnonzero(take[at : at + length] != signal[place : place + length].astype(np.int32) << 8)
        length = int(differs[0]) if differs.size else length
        found.append(Piece(at, place, length))
        at += length
    return found


def damage(stick: Path, scratch: Path) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Say what fsck.vfat finds on a stick: what costs contents, and the rest."""
    subprocess.run(["cp", "--sparse=always", stick, scratch], check=True)
    said = subprocess.run(["/usr/sbin/fsck.vfat", "-n", scratch], capture_output=True, text=True, check=False).stdout
    scratch.unlink()
    # The kernel notes in the first sector alone that a stick is in use, so that its copy differs.
    backup = r"There are differences between boot|This is mostly harmless|\s*65:01/00|\s*Not automatically fixing"
    noise = re.compile(rf"fsck\.fat|^\S+: \d+ files|^\s*$|Leaving filesystem|Automatically|{backup}")
    lines = tuple(line.strip() for line in said.splitlines() if not noise.search(line))
    grave = tuple(line for line in lines if any(word in line for word in GRAVE))
    return grave, tuple(line for line in lines if line not in grave)


def _find(signal: npt.NDArray[np.int16], key: Signal) -> int:
    """Place of some samples in the signal; -1 if there is none."""
    if not key.any() or (key & 0xFF).any():  # silence, or finer than 16 bits: the signal is neither
        return -1
    short = (key >> 8).astype(np.int16)
    for at in np.flatnonzero(signal[: len(signal) - KEY] == short[0]):
        if np.array_equal(signal[at : at + KEY], short):
            return int(at)
    return -1
