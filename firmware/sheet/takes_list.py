"""The part of the sheet with the takes: each can be played in place, and its chapters jump into it."""

from __future__ import annotations

from html import escape
from itertools import accumulate
from typing import Final
from urllib.parse import quote

from firmware.sheet.html import section, words
from firmware.sheet.rehearsal import Rehearsal, TakeNote
from firmware.sheet.words import clock, counted

GONE: Final = "The recording is no longer beside this sheet."
MOST_MARKERS: Final = 200
LAST_WORD: Final = 0.05
"""Seconds before the end of a file at which a chapter may begin at the latest, so that something is heard."""


def takes_html(rehearsal: Rehearsal) -> str:
    """Draw up the part."""
    if not rehearsal.takes:
        return section("Takes", words("Nothing was recorded."), kind="takes")
    return section("Takes", f'<ul class="takes">{"".join(map(_take, rehearsal.takes))}</ul>', kind="takes")


def _take(take: TakeNote) -> str:
    facts = f"at {clock(take.start_s)}, {clock(take.seconds)} long, {counted(len(take.markers), 'marker')}"
    head = f'<h3>Take {take.number}</h3> <span class="hint">{facts}</span>'
    if not take.parts:
        return f"<li>{head}{words(GONE)}</li>"
    starts = [0.0, *accumulate(part.seconds for part in take.parts)]
    players = "".join(_player(take, place, starts[place]) for place in range(len(take.parts)))
    return f"<li>{head}{players}{_chapters(take, starts)}</li>"


def _player(take: TakeNote, place: int, start: float) -> str:
    part = take.parts[place]
    several = len(take.parts) > 1
    name = f"Take {take.number}, part {place + 1}, from {clock(start)}" if several else f"Take {take.number}"
    told = f'<p class="hint">{escape(name)}</p>' if several else ""
    return (
        f'{told}<audio controls preload="none" id="{_id(take, place)}" src="{quote(part.file)}" '
        f'aria-label="{escape(name)}"></audio>'
    )


def _chapters(take: TakeNote, starts: list[float]) -> str:
    """One button for each marker: it knows which player, and where in its file."""
    buttons = []
    for at, title in sorted(take.markers)[:MOST_MARKERS]:
        place = max((index for index, start in enumerate(starts[:-1]) if start <= at), default=0)
        within = min(at - starts[place], max(take.parts[place].seconds - LAST_WORD, 0.0))
        told = f"Play take {take.number} from {clock(at)}: {title}"
        buttons.append(
            f'<li><button type="button" data-player="{_id(take, place)}" data-at="{max(within, 0.0):.3f}" '
            f'aria-label="{escape(told)}"><span>{clock(at)}</span> <bdi>{escape(title)}</bdi></button></li>'
        )
    return f'<ol class="chapters">{"".join(buttons)}</ol>' if buttons else ""


def _id(take: TakeNote, place: int) -> str:
    return f"take-{take.number}-{place + 1}"
