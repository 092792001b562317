"""Rehearsals that lie on a stick: what each left behind, and the figures of earlier ones for the trend."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final

import soundfile

from firmware.errors import KeelnoteError
from firmware.ports import Stick
from firmware.sheet.past import HEAD_BYTES, Past, read_past
from firmware.sheet.reading import LOG, NOTES, Files
from firmware.sheet.rehearsal import TakePart
from firmware.takes.parts import takes_in
from hardware.drivers.stick_paths import inside

SHEET: Final = "sheet.html"
MOST: Final = 11
"""Earlier rehearsals that a sheet compares with."""

NUMBERED: Final = re.compile(r"(\d{1,9})(?!\d)")


def numbered(names: Iterable[str]) -> tuple[tuple[int, str], ...]:
    """Folders of rehearsals among names: (number, name), by their number; the last of two with the same one."""
    found = {int(match[1]): name for name in sorted(names) if (match := NUMBERED.match(name))}
    return tuple(sorted(found.items()))


def earlier(stick: Stick, folder: str, number: int) -> tuple[Past, ...]:
    """Figures of the rehearsals in `folder` before number `number`, the oldest first, from the heads of their sheets.

    What has no sheet, or one that can't be read, is left out: a trend has gaps, and the box starts anyway.
    """
    try:
        before = [name for one, name in numbered(stick.names(folder)) if one < number][-MOST:]
    except KeelnoteError:
        return ()
    read = (figures(stick, f"{folder}/{name}".lstrip("/")) for name in before)
    return tuple(past for past in read if past is not None)


def figures(stick: Stick, folder: str) -> Past | None:
    """Figures in the head of the sheet in a rehearsal's folder; None if there are none."""
    path = f"{folder}/{SHEET}"
    with contextlib.suppress(KeelnoteError):
        head = stick.read_bytes(path, HEAD_BYTES)
        return None if head is None else read_past(head.decode("utf-8", "replace"), path)
    return None


def files_of(stick: Stick, root: Path, folder: str) -> Files:
    """All that a rehearsal left behind, read through its stick, whose folder `root` is.

    Raises
    ------
    DeviceError
        If the stick can't be read.
    """
    names = stick.names(folder)
    takes = {
        number: tuple(TakePart(name, _seconds(inside(root, f"{folder}/{name}"))) for name in parts)
        for number, parts in takes_in(names).items()
    }
    return Files(
        folder=folder.rpartition("/")[2],
        log=stick.read_text(f"{folder}/{LOG}"),
        notes=stick.read_text(f"{folder}/{NOTES}"),
        chapters=_chapters(stick, folder, names),
        takes=takes,
    )


def _chapters(stick: Stick, folder: str, names: Iterable[str]) -> Mapping[int, str]:
    found: dict[int, str] = {}
    for name in names:
        match = re.fullmatch(r"take-(\d{2,6})\.vtt", name)
        text = stick.read_text(f"{folder}/{name}") if match else None
        if match and text is not None:
            found[int(match[1])] = text
    return found


def _seconds(place: Path) -> float:
    """Length of a recording; 0 for one that can't be read."""
    try:
        information = soundfile.info(str(place))
    except (OSError, RuntimeError):  # libsndfile's own errors are RuntimeErrors
        return 0.0
    # A take that was cut off has no length in its head, which libsndfile tells as the largest number there is.
    known = 0 < information.frames < 2**40 and information.samplerate > 0
    return float(information.frames / information.samplerate) if known else 0.0
