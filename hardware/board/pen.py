"""Draws the signs of a wiring picture as SVG: wires, contacts, resistors, capacitors, grounds."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

Point = tuple[float, float]


class Pen:
    """Collects what is drawn; all of it black on white, so that it prints anywhere."""

    def __init__(self, width: int, height: int) -> None:
        self._size = (width, height)
        self._parts: list[str] = []

    def line(self, *points: Point) -> None:
        """A wire through points."""
        path = " ".join(f"{x:g},{y:g}" for x, y in points)
        self._parts.append(f'<polyline points="{path}"/>')

    def text(self, x: float, y: float, text: str, *, anchor: str = "start", kind: str = "") -> None:
        """A text with its baseline at y; `kind` is "small", "large" or "faint"."""
        marked = f' class="{kind}"' if kind else ""
        self._parts.append(f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}"{marked}>{escape(text)}</text>')

    def box(self, x: float, y: float, width: float, height: float, *, round_by: float = 0.0) -> None:
        """A part as a box."""
        self._parts.append(f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="{round_by:g}"/>')

    def ring(self, x: float, y: float, radius: float) -> None:
        """An open ring: a terminal that something is plugged into or soldered to."""
        self._parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}"/>')

    def dot(self, x: float, y: float) -> None:
        """Wires meet here."""
        self._parts.append(f'<circle class="dot" cx="{x:g}" cy="{y:g}" r="3"/>')

    def ground(self, x: float, y: float) -> None:
        """Ground, its stem's end at a point."""
        self.line((x, y), (x, y + 6))
        for half, down in ((8, 6), (5, 9), (2, 12)):
            self.line((x - half, y + down), (x + half, y + down))

    def supply(self, x: float, y: float, text: str) -> None:
        """A supply, its stem's end at a point."""
        self.line((x, y), (x, y - 6))
        self.line((x - 7, y - 6), (x + 7, y - 6))
        self.text(x, y - 10, text, anchor="middle", kind="small")

    def across(self, start: Point, length: float, way: int) -> float:
        """A resistor in a horizontal wire; gives x after it."""
        x, y = start
        left = x if way > 0 else x - length
        self.box(left, y - 5, length, 10)
        return x + way * length

    def down(self, start: Point, length: float) -> float:
        """A resistor in a vertical wire; gives y after it."""
        x, y = start
        self.box(x - 5, y, 10, length)
        return y + length

    def plates(self, x: float, y: float) -> float:
        """A capacitor in a vertical wire; gives y after it."""
        for at in (y, y + 5):
            self.line((x - 8, at), (x + 8, at))
        return y + 5

    def contact(self, start: Point, way: int) -> float:
        """A normally open contact in a horizontal wire; gives x after it."""
        x, y = start
        self.ring(x + way * 3, y, 3)
        self.ring(x + way * 33, y, 3)
        self.line((x + way * 5, y - 3), (x + way * 31, y - 11))
        return x + way * 36

    def diode(self, start: Point, way: int) -> float:
        """An LED in a horizontal wire, its cathode at the far end; gives x after it."""
        x, y = start
        self.line((x, y - 8), (x, y + 8), (x + way * 14, y), (x, y - 8))
        self.line((x + way * 14, y - 8), (x + way * 14, y + 8))
        for shift in (2, 8):
            top = (x + way * (shift + 8), y - 19)
            self.line((x + way * shift, y - 11), top)
            self.line((top[0] - way * 4, top[1] + 1), top, (top[0] - way, top[1] + 5))
        return x + way * 14

    def done(self, title: str, words: str) -> str:
        """The whole picture; `words` tell it to those who can't see it."""
        width, height = self._size
        return "\n".join(
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img">',
                f"<title>{escape(title)}</title>",
                f"<desc>{escape(words)}</desc>",
                f"<style>{STYLE}</style>",
                f'<rect class="paper" width="{width}" height="{height}"/>',
                *self._parts,
                "</svg>",
                "",
            )
        )


STYLE = (
    "text{font:13px 'DejaVu Sans',Verdana,sans-serif;fill:#000}.small{font-size:11px}.large{font-size:22px}"
    ".faint{font-size:11px;fill:#666}polyline,rect,circle{fill:none;stroke:#000;stroke-width:1.6}"
    "rect,circle{fill:#fff}.dot{fill:#000}.paper{stroke:none}"
)


def bent(start: Point, end: Point, at: float) -> Sequence[Point]:
    """A wire from one point to another: level, upright at x = `at`, level."""
    return (start, end) if start[1] == end[1] else (start, (at, start[1]), (at, end[1]), end)
