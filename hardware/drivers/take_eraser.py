"""Deletes takes from a stick: their sound and their chapters, and nothing else."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from firmware.errors import KeelnoteError
from firmware.ports import Stick

REHEARSALS: Final = "rehearsals"
NUMBERED: Final = re.compile(r"\d+(?: +(\d{4}-\d{2}-\d{2}))?")
"""The folder of a rehearsal: its number, and its date where one was known."""

TAKE: Final = re.compile(r"take-(\d{2,6})(?:-\d+)?\.(flac|vtt)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Erased:
    """Folders and numbers of the takes that are gone, and what refused to go."""

    takes: frozenset[tuple[str, int]] = frozenset()
    refused: tuple[str, ...] = ()


def erase_takes(stick: Stick, folder: str = "", number: int = 0) -> Erased:
    """Delete one take of a rehearsal, all of it (number 0), or all of every rehearsal (no folder).

    Only files that are called as the box calls its takes are deleted.
    """
    folders = (folder,) if folder else tuple(path for path, _ in rehearsals(stick))
    gone: set[tuple[str, int]] = set()
    refused: list[str] = []
    for one in folders:
        for path, take in _files(stick, one):
            if number not in {0, take}:
                continue
            try:
                if stick.remove(path):
                    gone.add((one, take))
            except KeelnoteError as error:
                refused.append(error.text)
    return Erased(frozenset(gone), tuple(refused))


def erase_old(stick: Stick, today: str, keep_days: int) -> Erased:
    """Delete the takes of rehearsals that are more than some days old; none of those whose date is not known.

    Without a clock the box does not know today, and a folder without a date may be of any age: both are kept.
    """
    day = _day(today)
    if day is None or keep_days <= 0:
        return Erased()
    last = day - dt.timedelta(days=keep_days)
    old = [path for path, date in rehearsals(stick) if date is not None and date < last]
    erased = [erase_takes(stick, path) for path in old]
    takes = frozenset(take for one in erased for take in one.takes)
    return Erased(takes, tuple(line for one in erased for line in one.refused))


def rehearsals(stick: Stick) -> tuple[tuple[str, dt.date | None], ...]:
    """Folders of all rehearsals, each with its date if one is known."""
    try:
        names = stick.names(REHEARSALS)
    except KeelnoteError:
        return ()
    named = ((name, NUMBERED.fullmatch(name)) for name in names)
    return tuple((f"{REHEARSALS}/{name}", _day(match[1] or "")) for name, match in named if match)


def _files(stick: Stick, folder: str) -> Iterator[tuple[str, int]]:
    try:
        names = stick.names(folder)
    except KeelnoteError:
        return
    for name in names:
        match = TAKE.fullmatch(name)
        if match:
            yield f"{folder}/{name}", int(match[1])


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None
