"""A picture of columns: how something lay about its target, one column for each degree, written note or beat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from firmware.sheet.svg import LEFT, RIGHT, height_of, lane_label, picture, reach_of
from firmware.sheet.words import signed_cents

TOP: Final = 10
FOOT: Final = 50
"""Height of the labels under the columns."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: half of the values lie between low and high. `before` is the middle at an earlier rehearsal."""

    label: str
    low: float
    middle: float
    high: float
    words: str
    foot: str = ""
    before: float | None = None


@dataclass(frozen=True, slots=True)
class Frame:
    """Size and legend of a picture of columns; `band` is what counts as on target, to either side, 0 for none."""

    name: str
    told: str
    lanes: tuple[str, str]
    width: int = 520
    height: int = 150
    band: float = 0.0
    least: float = 20.0
    most: float = 60.0


def columns(frame: Frame, entries: Sequence[Column]) -> str:
    """Draw the columns; up is sharp, or late."""
    reach = reach_of([value for one in entries for value in (one.low, one.high)], frame.least, frame.most)
    step = (frame.width - LEFT - RIGHT) / max(len(entries), 1)
    body = _grid(frame, reach)
    for index, entry in enumerate(entries):
        body.append(_column(frame, LEFT + step * (index + 0.5), min(step, 42.0), entry, reach))
    bottom = TOP + frame.height
    body.append(lane_label(bottom + 25, frame.lanes[0]))
    if frame.lanes[1]:
        body.append(lane_label(bottom + 45, frame.lanes[1]))
    return picture(frame.name, frame.width, bottom + FOOT, frame.told, body, "columns-picture")


def _grid(frame: Frame, reach: float) -> list[str]:
    right = frame.width - RIGHT
    parts = []
    if frame.band:
        upper, lower = (height_of(sign * frame.band, reach, TOP, frame.height) for sign in (1, -1))
        parts.append(
            f'<rect class="band" x="{LEFT}" y="{upper:.1f}" width="{right - LEFT}" height="{lower - upper:.1f}"/>'
        )
    for value in (-reach, -reach / 2, 0.0, reach / 2, reach):
        y = height_of(value, reach, TOP, frame.height)
        kind = "target" if value == 0 else "grid"
        parts.append(f'<line class="{kind}" x1="{LEFT}" x2="{right}" y1="{y:.1f}" y2="{y:.1f}"/>')
        parts.append(lane_label(y + 4, signed_cents(value)))
    return parts


def _column(frame: Frame, x: float, wide: float, entry: Column, reach: float) -> str:
    high, middle, low = (height_of(value, reach, TOP, frame.height) for value in (entry.high, entry.middle, entry.low))
    bottom, half, across = TOP + frame.height, 0.26 * wide, 0.45 * wide
    before = ""
    if entry.before is not None:
        y = height_of(entry.before, reach, TOP, frame.height)
        before = f'<path class="before" d="M{x - across:.1f} {y:.1f}l-5-4.5v9z"/>'
    foot = f'<text class="count" x="{x:.1f}" y="{bottom + 45}">{escape(entry.foot)}</text>' if entry.foot else ""
    return (
        f"<g><title>{escape(entry.words)}</title>"
        f'<rect class="half" x="{x - half:.1f}" y="{high:.1f}" width="{2 * half:.1f}" '
        f'height="{max(low - high, 1):.1f}" rx="3"/>'
        f'<line class="median" x1="{x - across:.1f}" x2="{x + across:.1f}" y1="{middle:.1f}" y2="{middle:.1f}"/>'
        f'{before}<text class="degree" x="{x:.1f}" y="{bottom + 26}">{escape(entry.label)}</text>{foot}</g>'
    )
