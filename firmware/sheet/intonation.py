"""The picture of how the held notes of each degree lay against their target."""

from __future__ import annotations

from html import escape
from typing import Final

from firmware.sheet.figures import DegreeFigure, by_degree
from firmware.sheet.rehearsal import Rehearsal
from firmware.sheet.svg import LEFT, RIGHT, height_of, lane_label, picture, reach_of
from firmware.sheet.words import counted, sharp_or_flat, signed_cents

WIDTH: Final = 520
TOTAL: Final = 208

TOP: Final = 10
HEIGHT: Final = 150


def intonation(rehearsal: Rehearsal) -> str:
    """One column a degree: half of its notes lie in the bar, the line across is their median; the target is at 0."""
    figures = by_degree(rehearsal.notes)
    reach = reach_of([value for figure in figures for value in (figure.low, figure.high)])
    step = (WIDTH - LEFT - RIGHT) / max(len(figures), 1)
    body = _grid(reach, rehearsal.tolerance)
    for index, figure in enumerate(figures):
        body.append(_column(LEFT + step * (index + 0.5), figure, reach))
    body.extend((lane_label(TOP + HEIGHT + 25, "degree"), lane_label(TOP + HEIGHT + 45, "notes")))
    told = "; ".join(f"degree {figure.degree} {sharp_or_flat(figure.median)}" for figure in figures)
    return picture("intonation", WIDTH, TOTAL, f"Median of each degree: {told}.", body)


def _grid(reach: float, tolerance: float) -> list[str]:
    upper, lower = (height_of(sign * tolerance, reach, TOP, HEIGHT) for sign in (1, -1))
    right = WIDTH - RIGHT
    parts = [f'<rect class="band" x="{LEFT}" y="{upper:.1f}" width="{right - LEFT}" height="{lower - upper:.1f}"/>']
    for cents in (-reach, -reach / 2, 0.0, reach / 2, reach):
        y = height_of(cents, reach, TOP, HEIGHT)
        kind = "target" if cents == 0 else "grid"
        parts.append(f'<line class="{kind}" x1="{LEFT}" x2="{right}" y1="{y:.1f}" y2="{y:.1f}"/>')
        parts.append(lane_label(y + 4, signed_cents(cents)))
    return parts


def _column(x: float, figure: DegreeFigure, reach: float) -> str:
    high, middle, low = (height_of(cents, reach, TOP, HEIGHT) for cents in (figure.high, figure.median, figure.low))
    words = f"degree {figure.degree}: {sharp_or_flat(figure.median)}, {counted(figure.count, 'note')}"
    bottom = TOP + HEIGHT
    return (
        f"<g><title>{escape(words)}</title>"
        f'<rect class="half" x="{x - 11:.1f}" y="{high:.1f}" width="22" height="{max(low - high, 1):.1f}" rx="3"/>'
        f'<line class="median" x1="{x - 19:.1f}" x2="{x + 19:.1f}" y1="{middle:.1f}" y2="{middle:.1f}"/>'
        f'<text class="degree" x="{x:.1f}" y="{bottom + 26}">{escape(figure.degree)}</text>'
        f'<text class="count" x="{x:.1f}" y="{bottom + 45}">{figure.count}</text></g>'
    )
