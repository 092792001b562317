"""Looks through a stick, or a part of one: mends the takes that were cut off and says of what else can't be read."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Final

import soundfile

from firmware.errors import KeelnoteError
from firmware.plan.groove_file import read_groove
from firmware.plan.plan import read_plan
from firmware.plan.tuning_file import read_tuning
from firmware.settings import read_settings
from firmware.sheet.log_lines import read_log
from firmware.sheet.notes_csv import read_notes
from firmware.sheet.vtt_reading import read_chapters
from firmware.sheet.words import counted
from hardware.drivers.stick import FolderStick

PIECE: Final = 1 << 18
"""Samples that are decoded at a time."""

DAMAGED_BYTES: Final = "bytes that are no text"


@dataclass(frozen=True, slots=True)
class Finding:
    """One file of ours: how long it sounds if it is a take, whether it was mended, and what can't be read of it."""

    path: str
    seconds: float | None = None
    mended: bool = False
    damage: tuple[str, ...] = ()


def check_stick(stick: FolderStick) -> Iterator[Finding]:
    """Mend the takes in a folder, then look at every file of the box in it, by their names in order.

    Links are left alone, and so are files of other kinds: they are not the box's.

    Raises
    ------
    DeviceError
        If the folder is not there.
    """
    mended = frozenset(stick.mend())
    for path in stick.files():
        for fits, look in LOOKS:
            if fits.fullmatch(path):
                yield _finding(stick, path, look, mended=path in mended)
                break


def _finding(stick: FolderStick, path: str, look: Look, *, mended: bool) -> Finding:
    try:
        seconds, damage = look(stick, path)
    except KeelnoteError as error:
        seconds, damage = None, (error.text,)
    return Finding(path, seconds, mended, damage)


Told = tuple[float | None, tuple[str, ...]]
Look = Callable[[FolderStick, str], Told]


def _take(stick: FolderStick, path: str) -> Told:
    """Decode the whole of it."""
    place = stick.root / path
    done = 0
    try:
        if place.stat().st_size == 0:
            return 0.0, ("it is empty: the power went before its first second was safe",)
        with soundfile.SoundFile(place) as file:
            rate, frames = file.samplerate, file.frames
            while done < frames:
                read = len(file.read(min(PIECE, frames - done), dtype="int32"))
                if not read:
                    break
                done += read
    except (soundfile.LibsndfileError, OSError, RuntimeError) as error:
        return None, (f"it can't be decoded ({error})",)
    if done < frames:
        return done / rate, (f"it can be decoded up to {done / rate:.1f} s of {frames / rate:.1f} s",)
    return done / rate, ()


def _text(stick: FolderStick, path: str) -> tuple[str, tuple[str, ...]]:
    text = stick.read_text(path) or ""
    broken = text.count("\ufffd") + text.count("\0")
    return text, ((f"{broken} {DAMAGED_BYTES}",) if broken else ())


def _lines(unread_in: Callable[[str], int]) -> Look:
    def look(stick: FolderStick, path: str) -> Told:
        text, damage = _text(stick, path)
        unread = unread_in(text)
        return None, (*damage, f"{counted(unread, 'line')} can't be read, all others are used") if unread else damage

    return look


def _entries(problems_in: Callable[[str, str], tuple[KeelnoteError, ...]]) -> Look:
    def look(stick: FolderStick, path: str) -> Told:
        text, damage = _text(stick, path)
        return None, (*damage, *(problem.text for problem in problems_in(text, path)))

    return look


def _groove_problems(text: str, path: str) -> tuple[KeelnoteError, ...]:
    return read_groove(text, path, PurePosixPath(path).stem)[1]


def _tuning_problems(text: str, path: str) -> tuple[KeelnoteError, ...]:
    return read_tuning(text, path, PurePosixPath(path).stem)[1]


LOOKS: Final[tuple[tuple[re.Pattern[str], Look], ...]] = (
    (re.compile(r"(.*/)?[^/]*\.flac", re.IGNORECASE), _take),
    (re.compile(r"(.*/)?take-[^/]*\.vtt"), _lines(lambda text: read_chapters(text).unread)),
    (re.compile(r"(.*/)?log\.jsonl"), _lines(lambda text: sum(one is None for one in read_log(text)))),
    (re.compile(r"(.*/)?notes\.csv"), _lines(lambda text: read_notes(text).unread)),
    (re.compile(r"(.*/)?settings\.toml(\.old)?"), _entries(lambda text, path: read_settings(text, path)[1])),
    (re.compile(r"(.*/)?plans/[^./][^/]*\.toml", re.IGNORECASE), _entries(lambda text, path: read_plan(text, path)[1])),
    (re.compile(r"(.*/)?tunings/[^./][^/]*\.toml(\.old)?", re.IGNORECASE), _entries(_tuning_problems)),
    (re.compile(r"(.*/)?grooves/[^./][^/]*\.toml", re.IGNORECASE), _entries(_groove_problems)),
)
"""By the name of a file how it is looked at; the first that fits counts."""


def place_of(folder: Path) -> Path:
    """The KEELNOTE folder of a stick, or the folder itself if there is none in it."""
    inner = folder / "KEELNOTE"
    return inner if inner.is_dir() and not inner.is_symlink() else folder
