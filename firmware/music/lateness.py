"""Early and late, rushing and dragging, in a few words."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

STEADY_PERCENT: Final = 0.05
"""A drift smaller than this is none that anybody hears: 1 ms in 2 s."""


def beat_text(beat: Fraction) -> str:
    """A place in the bar as musicians write it: 1, 2 1/2."""
    whole, part = divmod(beat, 1)
    return f"{int(whole)} {part}" if part else str(int(whole))


def paced(percent: float) -> str:
    """Rushing, dragging or steady, and by how much."""
    if abs(percent) < STEADY_PERCENT:
        return "steady"
    return f"{'rushing' if percent > 0 else 'dragging'} {abs(percent):.1f} %"


def placed(ms: float) -> str:
    """Early, late or on the beat, and by how much."""
    if abs(ms) < 0.5:
        return "on the beat"
    return f"{abs(ms):.0f} ms {'late' if ms > 0 else 'early'}"
