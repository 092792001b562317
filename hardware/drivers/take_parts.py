"""Reads a take back over all its parts, and says how long one part is."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from firmware.errors import BadFileError
from firmware.takes.parts import parts_of
from firmware.units import Samples
from hardware.drivers.flac_file import read_flac

TO_THE_END: Final = 1 << 62

NOT_KNOWN: Final = 1 << 36
"""So many samples and more are none: FLAC counts to 36 bits (RFC 9639, 8.2), and libsndfile gives its largest number
for a file that does not know its length, as one has whose power went before its first frame."""


def part_samples(place: Path) -> int:
    """Samples of each channel in one FLAC file that was finished or mended; 0 if it is empty or no sound file."""
    try:
        frames = int(soundfile.info(place).frames) if place.stat().st_size else 0
    except (soundfile.LibsndfileError, OSError):
        return 0
    return frames if frames < NOT_KNOWN else 0


def part_places(place: Path) -> tuple[Path, ...]:
    """Files of the take whose first one is at `place`, in their order; only that if there are no others."""
    try:
        names = [one.name for one in place.parent.iterdir() if not one.is_symlink()]
    except OSError:
        names = []
    return tuple(place.with_name(name) for name in parts_of(place.name, names))


def read_parts(places: tuple[Path, ...], name: str, first: int, count: int) -> Samples:
    """At most `count` samples of a take from its sample `first` on, shape (n,), over all its files.

    Raises
    ------
    BadFileError
        If one of them is no sound file.
    """
    if first < 0 or count < 0:
        raise BadFileError("place in take", (first, count), "both are 0 or more")
    found: list[Samples] = []
    for at, place in enumerate(places):
        last = at == len(places) - 1
        length = part_samples(place)
        if last and not length and not _empty(place):
            length = TO_THE_END  # no sound file at all, which is to be said
        if first < length and count > 0:
            found.append(read_flac(place, name, first, min(count, length - first)))
            count -= len(found[-1])
        first = max(0, first - length)
    return np.concatenate(found) if found else np.zeros(0, dtype=np.float32)


def _empty(place: Path) -> bool:
    """Whether it is a sound file, but without any sound yet."""
    try:
        return place.stat().st_size == 0 or soundfile.info(place).frames >= NOT_KNOWN
    except (soundfile.LibsndfileError, OSError):
        return False
