"""The sheet: one HTML page that tells of a rehearsal, complete in itself, with no script and no request to anywhere."""

from __future__ import annotations

from html import escape
from typing import Final
from urllib.parse import quote

from firmware.sheet.figures import DegreeFigure, by_degree, furthest_off
from firmware.sheet.intonation import intonation
from firmware.sheet.level_words import level_text
from firmware.sheet.rehearsal import HeldNote, Rehearsal, TakeNote
from firmware.sheet.sentences import sentences
from firmware.sheet.style import style
from firmware.sheet.timeline import timeline
from firmware.sheet.timing import timing_html
from firmware.sheet.words import clock, counted, signed_cents

CONSENT: Final = (
    "Recordings of people, of students above all, fall under the rules of your school and your country on consent and "
    "on how long they are kept: follow those, and delete what you no longer need. Nothing has left this stick."
)

HEARING: Final = (
    "Levels are settings in decibels below full scale, not sound levels in the room. Long loud sound harms hearing; "
    "NIOSH (98-126) advises at most 85 dB(A) for 8 hours, half the time for every 3 dB more. Local rules come first."
)


LEVEL: Final = (
    "An estimate, not a sound level meter: it holds where the microphone stands, and is as good as its calibration. "
    "Long loud sound harms hearing; NIOSH (98-126) advises at most 85 dB(A) for 8 hours, half the time for every 3 dB "
    "more. Local rules come first."
)


def sheet_html(rehearsal: Rehearsal) -> str:
    """Draw up the sheet of a rehearsal; the same data give the same bytes."""
    title = escape(_title(rehearsal))
    parts = (
        _header(rehearsal, title),
        _found(rehearsal),
        f'<section><h2>Over time</h2><div class="scroll" tabindex="0">{timeline(rehearsal)}</div>{_legend()}</section>',
        _intonation(rehearsal),
        timing_html(rehearsal.timings),
        _takes(rehearsal),
        _level(rehearsal),
        _settings(rehearsal),
        f"<footer><p>{escape(CONSENT)}</p></footer>",
    )
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<link rel="icon" href="data:,">\n'  # else a browser asks for an icon
        f"<title>{title}</title>\n<style>{style()}</style>\n</head>\n<body>\n"
        + "\n".join(parts)
        + "\n</body>\n</html>\n"
    )


def _title(rehearsal: Rehearsal) -> str:
    return rehearsal.title.strip() or f"Rehearsal {rehearsal.number}"


def _header(rehearsal: Rehearsal, title: str) -> str:
    date = rehearsal.date or "date: ____________"
    facts = [f"Rehearsal {rehearsal.number}", date, clock(rehearsal.seconds)]
    facts.append(f"written for {rehearsal.reading}" if rehearsal.reading else "written in concert pitch")
    return f'<header><h1>{title}</h1><p class="facts">{" · ".join(map(escape, facts))}</p></header>'


def _found(rehearsal: Rehearsal) -> str:
    lines = (
        f'<li><strong>{escape(one.text)}</strong><span class="rule">{escape(one.rule)}</span></li>'
        for one in sentences(rehearsal)
    )
    return f'<section><h2>What was found</h2><ol class="found">{"".join(lines)}</ol></section>'


def _legend() -> str:
    return (
        '<p class="hint">Filled notes came to rest within the tolerance (shaded); hollow ones did not. '
        "A key in outline: the drone was silent. Flags on takes are markers.</p>"
    )


def _intonation(rehearsal: Rehearsal) -> str:
    if not rehearsal.notes:
        return "<section><h2>Intonation by degree</h2><p>No note was held long enough to judge.</p></section>"
    picture = f'<div class="scroll" tabindex="0">{intonation(rehearsal)}</div>'
    return (
        '<div class="columns"><div>'
        f"<section><h2>Intonation by degree</h2>{picture}</section>{_furthest(rehearsal)}</div>"
        f"<section>{_degrees(rehearsal)}</section></div>"
    )


def _degrees(rehearsal: Rehearsal) -> str:
    head = _row("th", ("degree", "median, cents", "half lie within", "notes", "came to rest", "after, s"), "col")
    rows = "".join(map(_degree_row, by_degree(rehearsal.notes)))
    return (
        "<h2>The same in figures</h2><table><caption>Cents against the target. In the picture: bar, where half of "
        f"the notes lie; line across, median; shaded, within {rehearsal.tolerance:g} cents.</caption>"
        f"<thead>{head}</thead><tbody>{rows}</tbody></table>"
    )


def _degree_row(figure: DegreeFigure) -> str:
    share = f"{figure.settled} ({100 * figure.settled / figure.count:.0f} %)"
    after = "–" if figure.settled_after_s is None else f"{figure.settled_after_s:.1f}"
    half = f"{signed_cents(figure.low)} to {signed_cents(figure.high)}" if figure.count > 1 else "–"
    cells = (signed_cents(figure.median), half, str(figure.count), share, after)
    return f'<tr><th scope="row">{escape(figure.degree)}</th>{_cells(cells)}</tr>'


def _furthest(rehearsal: Rehearsal) -> str:
    notes = furthest_off(rehearsal.notes, rehearsal.tolerance)
    if not notes:
        return "<section><h2>Furthest off</h2><p>Every held note lay within the tolerance.</p></section>"
    head = _row("th", ("at", "written", "concert", "degree", "cents", "beats/s"), "col")
    rows = "".join(_note_row(note) for note in notes)
    return f"<section><h2>Furthest off</h2><table><thead>{head}</thead><tbody>{rows}</tbody></table></section>"


def _note_row(note: HeldNote) -> str:
    beats = "–" if note.beats is None else f"{note.beats:.1f}"
    cells = (note.written, note.concert, note.degree, signed_cents(note.median_cents), beats)
    return f'<tr><th scope="row">{clock(note.start_s)}</th>{_cells(cells)}</tr>'


def _row(tag: str, cells: tuple[str, ...], scope: str) -> str:
    return "<tr>" + "".join(f'<{tag} scope="{scope}">{escape(cell)}</{tag}>' for cell in cells) + "</tr>"


def _cells(cells: tuple[str, ...]) -> str:
    return "".join(f"<td>{escape(cell)}</td>" for cell in cells)


def _takes(rehearsal: Rehearsal) -> str:
    if not rehearsal.takes:
        return "<section><h2>Takes</h2><p>Nothing was recorded.</p></section>"
    return f'<section><h2>Takes</h2><ul class="takes">{"".join(map(_take, rehearsal.takes))}</ul></section>'


def _take(take: TakeNote) -> str:
    source = quote(take.file)
    name = f"Take {take.number}"
    facts = f"{clock(take.start_s)}, {clock(take.seconds)} long, {counted(len(take.markers), 'marker')}"
    marks = "".join(
        # "#t=" is a temporal fragment (W3C Media Fragments URI 1.0): the browser begins to play there.
        f'<li><a href="{source}#t={at:.2f}">{clock(at)}</a> {escape(text)}</li>'
        for at, text in sorted(take.markers)
    )
    chapters = f"<ol>{marks}</ol>" if marks else ""
    return (
        f'<li><strong>{name}</strong> <span class="hint">at {facts}</span>'
        f'<audio controls preload="none" src="{source}" aria-label="{name}"></audio>{chapters}</li>'
    )


def _level(rehearsal: Rehearsal) -> str:
    """Level and caution as one paragraph, so that a full sheet still prints on one page."""
    level = rehearsal.level
    if level is None:
        return ""
    caution = f'<span class="hint">{escape(LEVEL)}</span>'
    return f"<section><h2>Sound level</h2><p>{escape(level_text(level))} {caution}</p></section>"


def _settings(rehearsal: Rehearsal) -> str:
    if not rehearsal.settings:
        return ""
    entries = "".join(
        f"<div><dt>{escape(name.replace('_', ' '))}</dt><dd>{escape(value)}</dd></div>"
        for name, value in rehearsal.settings
    )
    caution = ""
    if rehearsal.level is None and any("level" in name for name, _ in rehearsal.settings):
        caution = f'<p class="hint">{escape(HEARING)}</p>'
    return f'<section><h2>Settings at the end</h2><dl class="settings">{entries}</dl>{caution}</section>'
