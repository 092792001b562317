"""From the files of a rehearsal back to what its sheet tells; a damaged line costs itself and no other."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from firmware.sheet.log_lines import read_log
from firmware.sheet.notes_csv import read_notes
from firmware.sheet.rehearsal import Rehearsal, TakeNote, TakePart, Unread
from firmware.sheet.telling import Story, ended, tell
from firmware.sheet.vtt_reading import read_chapters

LOG: Final = "log.jsonl"
NOTES: Final = "notes.csv"
FOLDER: Final = re.compile(r"(\d{1,9})(?:\s+(.*))?")
SAME_START: Final = 0.002
"""Seconds; a chapter of a file and a marker of the log that are no further apart are the same."""


@dataclass(frozen=True, slots=True)
class Files:
    """What lies in the folder of a rehearsal.

    Parameters
    ----------
    folder : str
        Its name: number, then date where one is known.
    log, notes : str or None
        Text of log.jsonl and notes.csv.
    chapters : mapping
        From the number of a take to the text of its chapters.
    takes : mapping
        From the number of a take to its files, in their order.
    """

    folder: str
    log: str | None = None
    notes: str | None = None
    chapters: Mapping[int, str] = field(default_factory=dict)
    takes: Mapping[int, tuple[TakePart, ...]] = field(default_factory=dict)


def read_rehearsal(files: Files) -> Rehearsal:
    """All that the files tell, and what of them could not be read.

    The log tells what happened. Where notes.csv can be read its notes count instead of the log's, for it may have been
    made anew from the recording; in the same way chapters beside a take count instead of its markers in the log, for
    their titles may have been edited.
    """
    story, unread = _from_log(files)
    rehearsal = ended(story)
    if files.notes is not None:
        read = read_notes(files.notes)
        if read.notes:
            rehearsal = replace(rehearsal, notes=read.notes)
        unread = (*unread, Unread(NOTES, read.unread))
    takes, more = _takes(rehearsal, files)
    last = max(
        (*(note.end_s for note in rehearsal.notes), *(take.start_s + take.seconds for take in takes)), default=0.0
    )
    return replace(
        rehearsal,
        takes=takes,
        seconds=rehearsal.seconds or last,
        unread=tuple(one for one in (*unread, *more) if one.lines),
    )


def _from_log(files: Files) -> tuple[Story, tuple[Unread, ...]]:
    named = FOLDER.fullmatch(files.folder.strip())
    number, date = (int(named[1]), named[2]) if named else (0, None)
    story, bad = Story(Rehearsal(number, date=date or None)), 0
    for record in read_log(files.log or ""):
        told = tell(story, record or {})
        story, bad = (story, bad + 1) if told is None else (told, bad)
    return story, (Unread(LOG, bad),)


def _takes(rehearsal: Rehearsal, files: Files) -> tuple[tuple[TakeNote, ...], tuple[Unread, ...]]:
    """The takes of the log with the files that are there, and files that the log does not know."""
    told = {take.number: take for take in rehearsal.takes}
    unread: list[Unread] = []
    takes: list[TakeNote] = []
    for number in sorted({*told, *files.takes}):
        parts = files.takes.get(number, ())
        length = sum(part.seconds for part in parts)
        take = told.get(number) or TakeNote(number, max(rehearsal.seconds - length, 0.0), length)
        if number in files.chapters:
            read = read_chapters(files.chapters[number])
            unread.append(Unread(f"take-{number:02d}.vtt", read.unread))
            take = replace(take, markers=_renamed(take.markers, read.markers)) if read.markers else take
        takes.append(replace(take, parts=parts))
    return tuple(takes), tuple(unread)


def _renamed(told: tuple[tuple[float, str], ...], read: tuple[tuple[float, str], ...]) -> tuple[tuple[float, str], ...]:
    """The chapters of the file, each at the exact time that the log gives it where it gives one."""
    return tuple((next((place for place, _ in told if abs(place - at) <= SAME_START), at), title) for at, title in read)
