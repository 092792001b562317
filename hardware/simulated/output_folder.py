"""The folder that a rehearsal is written to: an earlier one is replaced, anything else is left alone."""

from __future__ import annotations

import hashlib
from fnmatch import fnmatch
from pathlib import Path
from typing import Final

from firmware.errors import BadFileError, DeviceError

SUMS: Final = "SHA256SUMS"
"""Lists every file of a finished rehearsal, in the form that `sha256sum --check` reads."""
UNFINISHED: Final = "UNFINISHED.txt"
UNFINISHED_TEXT: Final = "A rehearsal is being written here, or was interrupted. The next one may replace it.\n"
OWN_NAMES: Final = (
    "speaker.wav",
    "mic.wav",
    "screens.png",
    "KEELNOTE/settings.toml*",
    "KEELNOTE/report.txt*",
    *(
        f"KEELNOTE/rehearsals/[0-9]*/{name}*"
        for name in ("take-[0-9]*.flac", "take-[0-9]*.vtt", "log.jsonl", "notes.csv", "sheet.html")
    ),
)
"""What an interrupted rehearsal may have left behind."""
ALLOWED: Final = "a new folder, an empty one, or one that holds an earlier rehearsal and nothing else"


class OutputFolder:
    """A folder for one rehearsal.

    Files that a rehearsal did not write, or that were changed since, are never removed: then nothing is done at all.
    Hidden files are passed over.

    Parameters
    ----------
    path : Path
        The folder; made when it is missing.
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    def begin(self) -> None:
        """Make the folder ready.

        Raises
        ------
        BadFileError
            If there is something in it that is not from an earlier rehearsal.
        DeviceError
            If it can't be written.
        """
        try:
            self._make_ready()
        except OSError as error:
            if isinstance(error, DeviceError):
                raise
            raise cannot_write(self.path, error) from error

    def finish(self) -> None:
        """List every file with its sum, so that the next rehearsal knows them for its own."""
        lines = [f"{_sum(self.path / name)}  {name}\n" for name in sorted(self._names() - {SUMS, UNFINISHED})]
        (self.path / SUMS).write_text("".join(lines), encoding="utf-8", newline="\n")
        (self.path / UNFINISHED).unlink()

    def written(self) -> list[str]:
        """Names of all files, sorted, but for the list of sums."""
        return sorted(self._names() - {SUMS, UNFINISHED})

    def _make_ready(self) -> None:
        if self.path.exists() and not self.path.is_dir():
            raise BadFileError("output folder", str(self.path), ALLOWED, "This is a file.")
        self.path.mkdir(parents=True, exist_ok=True)
        names = self._names()
        own = self._own(names)
        foreign = sorted(names - own - {SUMS, UNFINISHED})
        if names and (foreign or not names & {SUMS, UNFINISHED}):
            some = ", ".join(foreign[:3]) + (" and more" if len(foreign) > 3 else "")
            remedy = f"Choose another with --out, or take away {some}, not written by a rehearsal or changed since."
            raise BadFileError("output folder", str(self.path), ALLOWED, remedy)
        (self.path / UNFINISHED).write_text(UNFINISHED_TEXT, encoding="utf-8", newline="\n")
        for name in own | (names & {SUMS}):
            (self.path / name).unlink()

    def _names(self) -> set[str]:
        """Everything below the folder that is not itself a folder, as paths with slashes; links are not followed."""
        found = set()
        for place in self.path.rglob("*"):
            name = place.relative_to(self.path).as_posix()
            hidden = any(part.startswith(".") for part in name.split("/"))
            if not hidden and (place.is_symlink() or not place.is_dir()):
                found.add(name)
        return found

    def _own(self, names: set[str]) -> set[str]:
        files = {name for name in names if (self.path / name).is_file() and not (self.path / name).is_symlink()}
        if UNFINISHED in files:
            return {name for name in files if any(fnmatch(name, pattern) for pattern in OWN_NAMES)}
        if SUMS not in files:
            return set()
        listed = _listed((self.path / SUMS).read_bytes().decode("utf-8", "replace"))
        return {name for name in files if name in listed and listed[name] == _sum(self.path / name)}


def cannot_write(path: Path, error: Exception) -> DeviceError:
    """Say that a folder can't be written, and why."""
    reason = getattr(error, "strerror", None) or str(error)
    return DeviceError("output folder", str(path), "a folder that can be written", f"Writing failed: {reason}.")


def _listed(text: str) -> dict[str, str]:
    parts = (line.split("  ", 1) for line in text.splitlines())
    return {pair[1]: pair[0] for pair in parts if len(pair) == 2}


def _sum(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
