"""What the pages take from data: parts and prices, wires, faults, gestures."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from html import escape
from importlib import resources
from typing import Final

from firmware.screens.gestures import Kind as Done
from firmware.screens.meanings import GESTURES
from firmware.selftest.kind import Kind
from firmware.selftest.kinds import KINDS
from hardware.board.bill import Item, own_bill, total
from hardware.board.header import name_at
from hardware.board.nets import HEADER_MARK, nets_of
from hardware.board.parts import Board
from hardware.board.table import own_board
from hardware.board.wiring import at_places

PAGES: Final = ("build.html", "quick_card.html", "pa.html")
CLASS_SET: Final = 10
"""Boxes of a class set."""

BLOCK: Final = re.compile(r"<!-- drawn: ([a-z ]+) -->\n.*?<!-- end -->", re.DOTALL)

ORDER: Final = ("screen", "SDA", "SCL", "key", "power", "knob", "LED", "left pedal", "right pedal", "DAC")
"""The order in which wires are soldered: what says something first, then what is pressed, then what leaves the box."""

GAP: Final = re.compile(r"\{[a-z_]+\}")


def page_text(name: str) -> str:
    """A page as it is kept."""
    return resources.files("hardware.guide").joinpath(name).read_text(encoding="utf-8")


def renewed(page: str) -> str:
    """A page with each block drawn anew; raises KeyError for a block that there is not."""
    blocks = drawn()
    return BLOCK.sub(lambda match: f"<!-- drawn: {match[1]} -->\n{blocks[match[1]]}\n<!-- end -->", page)


def drawn() -> dict[str, str]:
    """Every block by its name."""
    bill, a, b = own_bill(), own_board("A"), own_board("B")
    return {
        "parts": _parts(bill),
        "sums": _sums(bill),
        "common": _list(_common(a)),
        "wires a": _list(_steps(a)),
        "wires b": _list(line for line in (*_common(b), *_steps(b)) if line not in {*_common(a), *_steps(a)}),
        "faults": _table(("The screen shows", "What is wrong", "What to do"), map(_fault, KINDS)),
        "gestures": _table(("Touch", "It does"), _gestures()),
    }


def _table(heads: Iterable[str], rows: Iterable[tuple[str, ...]]) -> str:
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in heads)
    body = "\n".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody>\n</table>"


def _list(lines: Iterable[str]) -> str:
    return '<ol class="steps">\n' + "\n".join(f"<li>{escape(line)}</li>" for line in lines) + "\n</ol>"


def _parts(bill: tuple[Item, ...]) -> str:
    heads = ("Mark", "Part", "For", "Number", "Euros each", "What else will do")
    rows = (
        (
            ", ".join(item.marks),
            item.part,
            "both" if item.variants == "AB" else item.variants,
            str(item.quantity) if item.quantity else "if you like",
            f"{item.low:g} to {item.high:g}",
            item.instead,
        )
        for item in bill
    )
    return _table(heads, rows)


def _sums(bill: tuple[Item, ...]) -> str:
    rows = []
    for variant in "AB":
        one, many = total(bill, variant), total(bill, variant, CLASS_SET)
        rows.append((variant, *(f"{low:.0f} to {high:.0f} euros" for low, high in (one, many))))
    return _table(("Variant", "One box", f"A class set of {CLASS_SET}"), rows)


def _steps(board: Board) -> tuple[str, ...]:
    """A sentence for each wire to the header that serves one thing alone."""
    found = []
    for place, ends in at_places(board).items():
        what, parts = _what(board, place), " and ".join(", ".join(ends).rsplit(", ", 1))
        found.append((_rank(what), place, f"Place {place} ({name_at(place)}), {what}: wire to {parts}."))
    return tuple(line for _, _, line in sorted(found))


def _what(board: Board, place: int) -> str:
    return next(net.name for net in nets_of(board) for end in net.terminals if str(end) == f"{HEADER_MARK}.{place}")


def _rank(what: str) -> int:
    return next((number for number, word in enumerate(ORDER) if what.startswith(word)), len(ORDER))


def _common(board: Board) -> tuple[str, ...]:
    """A sentence for each net that several places of the header serve: ground and the supplies."""
    found = []
    for net in nets_of(board):
        places = [end.name for end in net.terminals if end.part == HEADER_MARK]
        ends = [str(end) for end in net.terminals if end.part != HEADER_MARK]
        if len(places) > 1 and ends:
            found.append(
                f"{net.name} (places {', '.join(places)}): wires to {' and '.join(', '.join(ends).rsplit(', ', 1))}."
            )
    return tuple(found)


def _fault(kind: Kind) -> tuple[str, str, str]:
    shown = kind.line.format(**dict(kind.widest)) if kind.widest else kind.line
    return shown, GAP.sub("…", kind.what), GAP.sub("…", kind.remedy)


def _gestures() -> Iterator[tuple[str, str]]:
    for row in GESTURES:
        if row.kind not in (Done.UP, Done.TEMPO_TAP):
            yield f"{row.control}: {row.kind}", row.words
