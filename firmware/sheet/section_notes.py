"""The part of the sheet that tells each section, in its own written notes, how they lay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from html import escape
from typing import Final

from firmware.sheet.columns import Column, Frame, columns
from firmware.sheet.figures import ENOUGH, DegreeFigure, by_section
from firmware.sheet.html import folded, scrolled, section, table, words
from firmware.sheet.rehearsal import Rehearsal
from firmware.sheet.words import counted, listed, sharp_or_flat, signed_cents

MOST_SECTIONS: Final = 6
MOST_NOTES: Final = 12
"""Written notes in one picture; of more, those that were held most."""

MOST_ROWS: Final = 40
WORST: Final = 3
HEAD: Final = ("written", "cents", "notes", "came to rest")


def sections_html(rehearsal: Rehearsal) -> str:
    """Draw up the part; nothing when no written note was held often enough."""
    told = {
        name: tuple(one for one in figures if one.count >= ENOUGH)
        for name, figures in by_section(rehearsal.notes).items()
    }
    enough = [(name, figures) for name, figures in told.items() if figures][:MOST_SECTIONS]
    if not enough:
        return ""
    parts = "".join(_section(index, name, figures, rehearsal) for index, (name, figures) in enumerate(enough, 1))
    hint = f"Notes as that section reads them, each held {ENOUGH} times or more while its written pitch was shown."
    return section("By written note", words(hint, "hint"), f'<div class="sections">{parts}</div>', kind="written")


def section_name(name: str) -> str:
    """A section as the sheet calls it."""
    return name[:1].upper() + name[1:] if name else "Everyone, in concert pitch"


def _section(index: int, name: str, figures: Sequence[DegreeFigure], rehearsal: Rehearsal) -> str:
    # They come from low to high, which their names would not tell any more in the room's words.
    figures = [replace(one, degree=rehearsal.words.note(one.degree)) for one in figures]
    held = sorted(figures, key=lambda one: -one.count)[:MOST_NOTES]
    shown = [one for one in figures if one in held]
    told = "; ".join(f"{one.degree} {sharp_or_flat(one.median)}" for one in shown)
    lanes = ("written", "notes")
    frame = Frame(
        f"section-{index}", f"{section_name(name)}: {told}.", lanes, width=560, height=104, band=rehearsal.tolerance
    )
    drawn = scrolled(columns(frame, [_column(one) for one in shown]), f"Picture of {section_name(name)}")
    rows = (
        (one.degree, signed_cents(one.median), str(one.count), f"{100 * one.settled / one.count:.0f} %")
        for one in figures[:MOST_ROWS]
    )
    figured = folded("The same in figures", table(f"Table of {section_name(name)}", HEAD, rows))
    return (
        f"<div><h3>{escape(section_name(name))}</h3>{words(_worst(figures, rehearsal.tolerance))}{drawn}{figured}</div>"
    )


def _worst(figures: Sequence[DegreeFigure], tolerance: float) -> str:
    off = sorted((one for one in figures if abs(one.median) > tolerance), key=lambda one: -abs(one.median))[:WORST]
    if not off:
        return f"All within {tolerance:g} cents in the middle."
    return f"{listed([f'{one.degree} {sharp_or_flat(one.median)}' for one in off])}."


def _column(one: DegreeFigure) -> Column:
    told = f"{one.degree}: {sharp_or_flat(one.median)}, {counted(one.count, 'note')}"
    return Column(one.degree, one.low, one.median, one.high, told, str(one.count))
