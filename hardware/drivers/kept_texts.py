"""Lines and texts that wait for a stick that is away, on the box's card too, so that they outlive a power cut."""

from __future__ import annotations

import contextlib
import json
import os
from pathlib import Path
from typing import Final

from firmware.commands import AppendLine, Command, WriteText
from hardware.drivers.flac_file import NO_FOLLOW

NOW: Final = "texts.jsonl"
BEFORE: Final = "texts-before.jsonl"
LIMIT: Final = 4_000_000
"""Bytes at most; a rehearsal's log and sheet take a tenth of it."""

Text = AppendLine | WriteText


class KeptTexts:
    """What waits now, and what an earlier run left; a card that refuses is no harm, memory has all of it too.

    Parameters
    ----------
    folder : Path or None
        The folder of the spool; None without a card.
    """

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder
        self._size = 0
        self._before: tuple[Text, ...] = ()

    def add(self, job: Command) -> None:
        """Write down one that has to wait."""
        row = _row(job)
        if self._folder is None or row is None:
            return
        data = (json.dumps(row, ensure_ascii=False) + "\n").encode("utf-8", "replace")
        if self._size + len(data) > LIMIT:
            return
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | NO_FOLLOW
            with os.fdopen(os.open(self._folder / NOW, flags, 0o600), "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            self._size += len(data)

    def clear(self) -> None:
        """Forget those of this run: they are on the stick."""
        if self._size:
            self._size = 0
            self._remove(NOW)

    def take_up(self, *, wanted: bool) -> None:
        """Take up what earlier runs left; or let it go, if nothing shows to which stick it belongs."""
        if self._folder is None:
            return
        with contextlib.suppress(OSError):
            new = (self._folder / NOW).read_bytes()
            with (self._folder / BEFORE).open("ab") as file:
                file.write(new)
                file.flush()
                os.fsync(file.fileno())
            self._remove(NOW)
        with contextlib.suppress(OSError):
            lines = (self._folder / BEFORE).read_bytes()[-LIMIT:].decode("utf-8", "replace").splitlines()
            self._before = tuple(job for line in lines if (job := _job(line)) is not None)
        if not wanted:
            self._before = ()
            self._remove(BEFORE)

    def of(self, path: str, report: str) -> tuple[Text, ...]:
        """Texts of earlier runs that lie beside a take, and lines of the report, oldest first; each is given once."""
        folder, _, _ = path.rpartition("/")
        mine = tuple(job for job in self._before if job.path == report or job.path.startswith(f"{folder}/"))
        self._before = tuple(job for job in self._before if job not in mine)
        if not self._before:
            self._remove(BEFORE)
        return mine

    def _remove(self, name: str) -> None:
        if self._folder is not None:
            with contextlib.suppress(OSError):
                (self._folder / name).unlink()


def _row(job: Command) -> dict[str, str] | None:
    if isinstance(job, AppendLine):
        return {"path": job.path, "line": job.line}
    if isinstance(job, WriteText):
        return {"path": job.path, "text": job.text}
    return None


def _job(line: str) -> Text | None:
    """One line of the file; None for one that a power cut left half."""
    try:
        row = json.loads(line)
        path, kept = row["path"], row.get("line", row.get("text"))
    except (ValueError, TypeError, KeyError, AttributeError):
        return None
    if not isinstance(path, str) or not isinstance(kept, str):
        return None
    return AppendLine(path, kept) if "line" in row else WriteText(path, kept)
