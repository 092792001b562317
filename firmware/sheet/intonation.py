"""The part of the sheet that tells how the held notes lay: by degree, by key, and which were furthest off."""

from __future__ import annotations

from collections import Counter
from typing import Final

from firmware.sheet.columns import Column, Frame, columns
from firmware.sheet.figures import ENOUGH, DegreeFigure, before, by_degree, by_key, degree_order, furthest_off
from firmware.sheet.html import Far, folded, scrolled, section, table, words
from firmware.sheet.rehearsal import HeldNote, Rehearsal
from firmware.sheet.words import clock, counted, degree_name, listed, sharp_or_flat, signed_cents

MOST_KEYS: Final = 8
MOST_DEGREES: Final = 24
MOST_ANSWERED: Final = 4
NOTHING: Final = "No note was held long enough to judge."


def intonation_html(rehearsal: Rehearsal) -> str:
    """Draw up the part."""
    if not rehearsal.notes:
        return section("Intonation by degree", words(NOTHING), kind="degrees")
    figures = by_degree(rehearsal.notes)[:MOST_DEGREES]
    drawn = scrolled(intonation(rehearsal), "Picture of the degrees")
    return section(
        "Intonation by degree",
        f'<div class="columns"><div>{drawn}{words(_legend(rehearsal), "hint")}</div><div>',
        table(
            "Table of the degrees",
            ("degree", "cents", "half lie within", "notes", "rested", "after", "before"),
            (_row(figure, rehearsal) for figure in figures),
        ),
        "</div></div>",
        _keys(rehearsal),
        _answers(rehearsal),
        _furthest(rehearsal),
        kind="degrees",
    )


def _legend(rehearsal: Rehearsal) -> str:
    """What the marks of the picture mean."""
    text = (
        f"Cents from the target, sharp is up. Bar: half of the notes; thick line: their middle; shaded: in tune, "
        f"within {rehearsal.tolerance:g} cents."
    )
    return f"{text} Triangle: the rehearsal before." if rehearsal.past else text


def intonation(rehearsal: Rehearsal) -> str:
    """One column a degree: half of its notes lie in the bar, the line across is their median; the target is at 0."""
    figures = by_degree(rehearsal.notes)[:MOST_DEGREES]
    told = "; ".join(f"degree {figure.degree} {sharp_or_flat(figure.median)}" for figure in figures)
    frame = Frame("intonation", f"Median of each degree: {told}.", ("degree", "notes"), band=rehearsal.tolerance)
    return columns(frame, [_column(figure, rehearsal) for figure in figures])


def _column(figure: DegreeFigure, rehearsal: Rehearsal) -> Column:
    return Column(
        label=figure.degree,
        low=figure.low,
        middle=figure.median,
        high=figure.high,
        words=f"degree {figure.degree}: {sharp_or_flat(figure.median)}, {counted(figure.count, 'note')}",
        foot=str(figure.count),
        before=before(rehearsal.past, figure.figure, ENOUGH),
    )


def _row(figure: DegreeFigure, rehearsal: Rehearsal) -> tuple[str, ...]:
    then = before(rehearsal.past, figure.figure, ENOUGH)
    return (
        f"{figure.degree}  {degree_name(figure.degree)}",
        _cents(figure, rehearsal),
        f"{signed_cents(figure.low)} to {signed_cents(figure.high)}" if figure.count > 1 else "–",
        str(figure.count),
        f"{100 * figure.settled / figure.count:.0f} %",
        "–" if figure.settled_after_s is None else f"{figure.settled_after_s:.1f} s",
        "–" if then is None else signed_cents(then),
    )


def _cents(figure: DegreeFigure, rehearsal: Rehearsal) -> str:
    told = signed_cents(figure.median)
    return Far(told) if abs(figure.median) > rehearsal.tolerance else told


def _keys(rehearsal: Rehearsal) -> str:
    """Which third it was that was sharp: the same degrees key by key."""
    keys = dict(list(by_key(rehearsal.notes, ENOUGH).items())[:MOST_KEYS])
    if not keys:
        return ""
    degrees = sorted({degree for figures in keys.values() for degree in figures}, key=degree_order)[:MOST_DEGREES]
    rows = (
        (key, *(_cents(figures[degree], rehearsal) if degree in figures else "·" for degree in degrees))
        for key, figures in keys.items()
    )
    told = f"Middle of each degree in cents, key by key, where it was held {ENOUGH} times; bold: out of tune."
    return f'<div class="keys">{table("Table of the degrees key by key", ("key", *degrees), rows, told)}</div>'


def _answers(rehearsal: Rehearsal) -> str:
    """Where the box had to help: the degrees that it answered most."""
    if not rehearsal.answers:
        return ""
    most = Counter(rehearsal.answers).most_common(MOST_ANSWERED)
    told = listed([f"{degree_name(degree)} {'once' if count == 1 else f'{count} times'}" for degree, count in most])
    return words(f"The box answered {counted(len(rehearsal.answers), 'note')} with its target: {told}.")


def _furthest(rehearsal: Rehearsal) -> str:
    notes = furthest_off(rehearsal.notes, rehearsal.tolerance)
    if not notes:
        return words("Every held note lay within the tolerance.")
    head = ("at", "written", "concert", "degree", "cents", "beats/s")
    rows = [_note_row(note, rehearsal.words.note(note.written)) for note in notes]
    return folded(
        "Single notes furthest off",
        table("Table of single notes", head, rows),
    )


def _note_row(note: HeldNote, written: str) -> tuple[str, ...]:
    beats = "–" if note.beats is None else f"{note.beats:.1f}"
    return (clock(note.start_s), written, note.concert, note.degree, signed_cents(note.median_cents), beats)
