"""Small pieces of HTML that the parts of the sheet are made of; every text is escaped here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

Row = Sequence[str]


class Far(str):
    """A cell whose figure lies outside of what counts as in tune; it is set in bold."""

    __slots__ = ()


def section(title: str, *body: str, kind: str) -> str:
    """A part of the sheet under its heading; `kind` is its place to jump to, and how the style sheet calls it."""
    return f'<section id="{kind}"><h2>{escape(title)}</h2>{"".join(body)}</section>'


def words(text: str, kind: str = "") -> str:
    """A paragraph."""
    names = f' class="{kind}"' if kind else ""
    return f"<p{names}>{escape(text)}</p>"


def table(name: str, head: Row, rows: Iterable[Row], caption: str = "") -> str:
    """A table whose first column names its rows; it can be scrolled where the window is narrow, there as `name`."""
    columns = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in head)
    told = f"<caption>{escape(caption)}</caption>" if caption else ""
    lines = "".join(_row(row) for row in rows)
    return scrolled(f"<table>{told}<thead><tr>{columns}</tr></thead><tbody>{lines}</tbody></table>", name)


def _row(row: Row) -> str:
    first, *rest = row
    return f'<tr><th scope="row">{escape(first)}</th>{"".join(map(_cell, rest))}</tr>'


def _cell(cell: str) -> str:
    return f"<td><b>{escape(cell)}</b></td>" if isinstance(cell, Far) else f"<td>{escape(cell)}</td>"


def scrolled(body: str, name: str) -> str:
    """A wide thing in a frame that the keyboard can scroll too."""
    return f'<div class="scroll" role="region" tabindex="0" aria-label="{escape(name)}">{body}</div>'


def folded(summary: str, body: str) -> str:
    """Something to open; it is not printed while it is closed."""
    return f"<details><summary>{escape(summary)}</summary>{body}</details>"
