"""Chapters read back from WebVTT (W3C), as `firmware.takes.markers` writes it or a person has edited it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import unescape
from typing import Final

from firmware.sheet.checked import LONGEST_SECONDS

STAMP: Final = r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})"
TIMING: Final = re.compile(rf"{STAMP}[ \t]+-->[ \t]+{STAMP}(?:[ \t].*)?", re.ASCII)
NOT_A_CUE: Final = ("NOTE", "STYLE", "REGION", "WEBVTT")


@dataclass(frozen=True, slots=True)
class ChaptersRead:
    """Chapters as (seconds, title), and how many lines could not be read."""

    markers: tuple[tuple[float, str], ...] = ()
    unread: int = 0


def read_chapters(text: str) -> ChaptersRead:
    """Chapters of a file; what is damaged costs its own cue and no other. A cue without a text is called by its number.

    Line ends may be those of any system; tags in a text are left out.
    """
    markers: list[tuple[float, str]] = []
    unread = 0
    blocks = re.split(r"\n{2,}", re.sub(r"\r\n?", "\n", text.lstrip("\ufeff")).strip("\n"))
    for block in blocks:
        lines = [line for line in block.split("\n") if line.strip()]
        if not lines or lines[0].split()[0] in NOT_A_CUE:
            continue
        timed = next((index for index, line in enumerate(lines[:2]) if "-->" in line), None)
        found = TIMING.fullmatch(lines[timed].strip()) if timed is not None else None
        at = _seconds(*found.groups()[:4]) if found else LONGEST_SECONDS
        if timed is None or at >= LONGEST_SECONDS:
            unread += len(lines)
            continue
        title = " ".join(" ".join(_plain(line) for line in lines[timed + 1 :]).split())
        markers.append((at, title or f"Marker {len(markers) + 1}"))
    return ChaptersRead(tuple(sorted(markers)), unread)


def _seconds(hours: str | None, minutes: str, seconds: str, thousandths: str) -> float:
    whole = 3600.0 * float(hours or 0) + 60.0 * float(minutes) + float(seconds)
    return whole + float(thousandths) / 1000.0


def _plain(line: str) -> str:
    return unescape(re.sub(r"<[^>]*>", "", line))
