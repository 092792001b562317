"""What all pictures of the sheet are drawn with, as SVG (W3C); their colours come from the style sheet."""

from __future__ import annotations

from html import escape
from typing import Final

LEFT: Final = 64
RIGHT: Final = 12


def picture(name: str, width: int, height: int, words: str, body: list[str], kind: str = "") -> str:
    """An SVG element of that size whose content `words` tell to those who can't see it.

    `name` is unlike any other on the page; `kind` is how the style sheet calls it, the name if it is not given.
    """
    return (
        f'<svg class="{kind or name}" viewBox="0 0 {width} {height}" role="img" aria-labelledby="{name}-words">'
        f'<title id="{name}-words">{escape(words)}</title>' + "".join(body) + "</svg>"
    )


def lane_label(y: float, text: str) -> str:
    """A word at the left edge."""
    return f'<text class="lane" x="{LEFT - 10}" y="{y:.1f}">{escape(text)}</text>'


def reach_of(values: list[float], least: float = 20.0, most: float = 60.0) -> float:
    """From the middle of a picture to its edge: the next ten above the furthest value, `least` to `most`."""
    furthest = max((abs(value) for value in values), default=0.0)
    return min(most, max(least, 10.0 * -(-furthest // 10)))


def height_of(value: float, reach: float, top: float, height: float) -> float:
    """Where a value lies in a strip; sharp is up, and what is beyond the edge lies on it."""
    return top + height / 2 * (1 - min(max(value / reach, -1.0), 1.0))
