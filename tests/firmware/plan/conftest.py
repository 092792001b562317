"""What tests of plans share: Standard MIDI Files made byte by byte, scores made measure by measure."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import pytest

Event = tuple[int, bytes]
"""Ticks since the last event, and its bytes."""


def quantity(value: int) -> bytes:
    """A variable-length quantity."""
    parts = [value & 0x7F]
    while value := value >> 7:
        parts.append(0x80 | value & 0x7F)
    return bytes(reversed(parts))


def track(events: Iterable[Event]) -> bytes:
    """A track chunk with an end of track."""
    body = b"".join(quantity(delta) + event for delta, event in events) + b"\0\xff\x2f\0"
    return b"MTrk" + len(body).to_bytes(4, "big") + body


@pytest.fixture
def midi_of() -> Callable[..., bytes]:
    """Make a file of tracks, each a list of (ticks, bytes)."""

    def make(*tracks: Iterable[Event], division: int = 480, kind: int | None = None) -> bytes:
        kind = (0 if len(tracks) == 1 else 1) if kind is None else kind
        head = b"".join(number.to_bytes(2, "big") for number in (kind, len(tracks), division))
        return b"MThd\0\0\0\6" + head + b"".join(track(events) for events in tracks)

    return make


DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">'
)
FOUR = "<note><rest/><duration>4</duration></note>"
"""A bar's rest in four quarters."""


@pytest.fixture
def score_xml() -> Callable[..., bytes]:
    """Make a MusicXML score of parts, each a list of what stands in its measures; an empty one is a bar's rest."""

    def make(*parts: Iterable[str], head: str = "", doctype: str = DOCTYPE) -> bytes:
        names = "".join(
            f'<score-part id="P{n}"><part-name>Part {n}</part-name></score-part>' for n in range(1, len(parts) + 1)
        )
        text = f'<?xml version="1.0" encoding="UTF-8"?>{doctype}<score-partwise version="4.0">{head}'
        text += f"<part-list>{names}</part-list>"
        for number, measures in enumerate(parts, start=1):
            text += f'<part id="P{number}">'
            for bar, inner in enumerate(measures, start=1):
                body = inner if "<note>" in inner else inner + FOUR
                text += f'<measure number="{bar}">{body}</measure>'
            text += "</part>"
        return (text + "</score-partwise>").encode()

    return make
