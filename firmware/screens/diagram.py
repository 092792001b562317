"""Draws the panel's tables as Markdown for DEVELOPERS.md, so that the document can't differ from the program."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from firmware.screens.fields import BY_NAME, fields_of
from firmware.screens.gestures import TRANSITIONS
from firmware.screens.meanings import DRILL_GESTURES, GESTURES, Meaning
from firmware.screens.pages import PAGES

BEGIN: Final = "<!-- panel tables: begin -->"
END: Final = "<!-- panel tables: end -->"
"""Lines of the document between which the tables stand."""


def table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    """A Markdown table."""
    lines = [head, tuple("---" for _ in head), *rows]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in lines)


def gesture_table(gestures: tuple[Meaning, ...] = GESTURES) -> str:
    """Every gesture, what it means, and what it asks of the box."""
    rows = (
        (row.control.value, row.kind.value, row.words, f"`{row.wish or row.field}`" if row.wish or row.field else "")
        for row in gestures
    )
    return table(("control", "gesture", "means", "wish or field"), rows)


def page_table() -> str:
    """The pages in the order of the knob, each with its fields in the order of the cursor."""
    rows = (
        (str(number), page.title, ", ".join(f"{BY_NAME[name].label} (`{name}`)" for name in fields_of(page.name)))
        for number, page in enumerate(PAGES, start=1)
    )
    return table(("", "page", "fields"), rows)


def page_order() -> str:
    """The ring of pages as one line."""
    return " → ".join(page.title for page in (*PAGES, PAGES[0]))


def key_table() -> str:
    """How presses, releases, turns and passing time become gestures."""
    rows = (
        (manner.value, row.phase.value, row.stimulus.value, row.then.value, row.kind.value if row.kind else "")
        for manner, manner_rows in TRANSITIONS.items()
        for row in manner_rows
    )
    return table(("control", "is", "on", "becomes", "gesture"), rows)


def panel_text() -> str:
    """All of it, as it stands in DEVELOPERS.md."""
    return f"""{gesture_table()}

During a drill; any other gesture ends it, and then means what it always does:

{gesture_table(DRILL_GESTURES)}

Push the knob and turn it: {page_order()}.

{page_table()}

A key that is spent is down, but its release means nothing more. One that waits is up, and its next press is a tap of
the tempo. A turn belongs to the control pressed last among those that are down, else to the field under the cursor.

{key_table()}
"""


def renewed(document: str) -> str:
    """The document with its tables drawn anew; unchanged if it has no place for them."""
    before, begin, rest = document.partition(BEGIN)
    _, end, after = rest.partition(END)
    return f"{before}{BEGIN}\n{panel_text()}{END}{after}" if begin and end else document
