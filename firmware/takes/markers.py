"""Markers of a take as chapters in WebVTT (W3C, "WebVTT: The Web Video Text Tracks Format")."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

ESCAPES: Final = (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"))
"""Characters that cue text may not hold as they are; an escaped > also makes "-->" harmless. & must come first."""

SHORTEST: Final = 0.001
"""A cue must end after it starts; WebVTT counts in milliseconds."""


def timestamp(seconds: float) -> str:
    """Time as WebVTT writes it, hours always shown: 3725.5 is 01:02:05.500. Negative times are 0."""
    milliseconds = max(0, round(seconds * 1000))
    minutes, rest = divmod(milliseconds, 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02}:{minutes:02}:{rest // 1000:02}.{rest % 1000:03}"


def cue_text(title: str) -> str:
    """Title as one line of cue text: line breaks become spaces, what WebVTT reads as markup is escaped."""
    line = " ".join(title.replace("\0", "\ufffd").split())
    line = line.encode("utf-8", "replace").decode("utf-8")
    for character, escape in ESCAPES:
        line = line.replace(character, escape)
    return line


def vtt_text(markers: Iterable[tuple[float, str]], seconds: float) -> str:
    """WebVTT file of a take.

    Parameters
    ----------
    markers : iterable of (float, str)
        Seconds into the take, and title; in any order. One without a title is called by its number.
    seconds : float
        Length of the take. A marker lasts until the next one, or until the end.

    Returns
    -------
    str
        The whole file, one cue for each marker; with no marker only the header.
    """
    last_start = max(0.0, seconds - SHORTEST)
    ordered = sorted((min(max(at, 0.0), last_start), title) for at, title in markers)
    ends = [*(at for at, _ in ordered[1:]), seconds][: len(ordered)]
    blocks = ["WEBVTT\n"]
    for number, ((start, title), end) in enumerate(zip(ordered, ends, strict=True), start=1):
        span = f"{timestamp(start)} --> {timestamp(max(end, start + SHORTEST))}"
        blocks.append(f"{number}\n{span}\n{cue_text(title) or f'Marker {number}'}\n")
    return "\n".join(blocks)
