"""The sheet: one HTML page that tells of a rehearsal, complete in itself, with no request to anywhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import Final

from firmware.messages import MESSAGES
from firmware.sheet.chords import chords_html
from firmware.sheet.drills import drills_html
from firmware.sheet.figures import past_of
from firmware.sheet.html import folded, scrolled, section, words
from firmware.sheet.in_words import in_words
from firmware.sheet.intonation import intonation_html
from firmware.sheet.level_words import level_text
from firmware.sheet.past import past_meta
from firmware.sheet.rehearsal import PlanSpan, Rehearsal
from firmware.sheet.script import SCRIPT, policy
from firmware.sheet.section_notes import sections_html
from firmware.sheet.sentences import sentences
from firmware.sheet.style import style
from firmware.sheet.takes_list import takes_html
from firmware.sheet.timeline import story_table, timeline
from firmware.sheet.timing import timing_html
from firmware.sheet.trend import trend_html
from firmware.sheet.words import clock, counted, listed

CONSENT: Final = (
    "Recordings of people, of students above all, fall under the rules of your school and your country on consent and "
    "on how long they are kept: follow those. No name is needed on this page. The box has no network: it sent nothing "
    "to anybody."
)

DELETING: Final = (
    "To delete a take: on the box, the page Takes; on a computer, delete its take-….flac and .vtt files beside this "
    "page and write the page anew with “keelnote sheet”. To delete the rehearsal, delete its folder."
)

PAPER: Final = "On paper long lists are cut short; the page on a screen has all of it, and the takes to play."

HEARING: Final = (
    "Levels are settings in decibels below full scale, not sound levels in the room. Long loud sound harms hearing; "
    "NIOSH (98-126) advises at most 85 dB(A) for 8 hours, half the time for every 3 dB more. Local rules come first."
)

LEVEL: Final = (
    "An estimate, not a sound level meter: it holds where the microphone stands, and is as good as its calibration. "
    "Long loud sound harms hearing; NIOSH (98-126) advises at most 85 dB(A) for 8 hours, half the time for every 3 dB "
    "more. Local rules come first."
)

LEGEND: Final = (
    "Sharp is up. Strokes are held notes that came to rest within the tolerance (shaded), diamonds those that did not; "
    "the line joins the middles of short stretches. A key in outline: the drone was silent. Flags on takes are markers."
)

MOST_TROUBLES: Final = 6
MOST_STEPS: Final = 40
"""Steps of the plan whose notes are shown."""


def sheet_html(rehearsal: Rehearsal) -> str:
    """Draw up the sheet of a rehearsal; the same data give the same bytes."""
    title, look, figures = escape(_title(rehearsal)), style(), past_meta(past_of(rehearsal))
    rehearsal = in_words(rehearsal)
    drawn = [(part, part.draw(rehearsal)) for part in PARTS]
    links = "".join(f'<li><a href="#{part.kind}">{part.name}</a></li>' for part, page in drawn if page)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy(look)}">\n{figures}\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<link rel="icon" href="data:,">\n'  # else a browser asks for an icon
        f"<title>{title}</title>\n<style>{look}</style>\n</head>\n<body>\n"
        f'{_header(rehearsal, title)}\n<nav aria-label="Parts of this sheet"><ul>{links}</ul></nav>\n'
        f"<main>{_unread(rehearsal)}\n"
        + "\n".join(page for _, page in drawn if page)
        + f"\n</main>\n{_footer()}\n<script>{SCRIPT}</script>\n</body>\n</html>\n"
    )


def _title(rehearsal: Rehearsal) -> str:
    return rehearsal.title.strip() or f"Rehearsal {rehearsal.number}"


def _header(rehearsal: Rehearsal, title: str) -> str:
    date = rehearsal.date or "date: ____________"
    facts = [f"Rehearsal {rehearsal.number}", date, clock(rehearsal.seconds)]
    facts.append(_readers(rehearsal))
    return f'<header><h1 dir="auto">{title}</h1><p class="facts">{" · ".join(map(escape, facts))}</p></header>'


def _readers(rehearsal: Rehearsal) -> str:
    """Whose written pitch the notes are told in."""
    sections = {note.section for note in rehearsal.notes} or {rehearsal.reading}
    if len(sections) > 1:
        return f"written for {len(sections)} sections"
    (name,) = sections
    return f"written for {name}" if name else "written in concert pitch"


def _unread(rehearsal: Rehearsal) -> str:
    if not rehearsal.unread:
        return ""
    told = listed([f"{counted(one.lines, 'line')} of {one.file}" for one in rehearsal.unread])
    return f'<p class="unread"><strong>{escape(told)} could not be read.</strong> All the others were used.</p>'


def _found(rehearsal: Rehearsal) -> str:
    lines = (
        f'<li><strong>{escape(one.text)}</strong><span class="rule">{escape(one.rule)}</span></li>'
        for one in sentences(rehearsal)
    )
    return section("What was found", f'<ol class="found">{"".join(lines)}</ol>', kind="found")


def _over_time(rehearsal: Rehearsal) -> str:
    drawn = scrolled(timeline(rehearsal), "Picture of the rehearsal over time")
    figured = folded("The same as a table", story_table(rehearsal)) if rehearsal.keys else ""
    return section("Over time", drawn, words(LEGEND, "hint"), _plan_notes(rehearsal), figured, kind="time")


def _plan_notes(rehearsal: Rehearsal) -> str:
    """What the director wrote into the plan, step by step."""
    noted = [step for step in rehearsal.steps if step.notes.strip()][:MOST_STEPS]
    return f'<dl class="noted">{"".join(map(_noted, noted))}</dl>' if noted else ""


def _noted(step: PlanSpan) -> str:
    title, notes = escape(step.title), escape(step.notes)
    return f'<div><dt>{clock(step.start_s)} <bdi>{title}</bdi></dt><dd dir="auto">{notes}</dd></div>'


def _level(rehearsal: Rehearsal) -> str:
    """Level and caution as one paragraph, so that a full sheet still prints on one page."""
    level = rehearsal.level
    if level is None:
        return ""
    caution = f'<span class="hint">{escape(LEVEL)}</span>'
    return section("Sound level and exposure", f"<p>{escape(level_text(level))} {caution}</p>", kind="level")


def _troubles(rehearsal: Rehearsal) -> str:
    """What went wrong, in the words of the box's messages, each with how often and when first."""
    if not rehearsal.troubles:
        return ""
    sentence = {message.code: message.sentence for message in MESSAGES}
    first = {trouble.code: trouble.at_s for trouble in reversed(rehearsal.troubles)}
    counts = Counter(trouble.code for trouble in rehearsal.troubles).most_common(MOST_TROUBLES)
    lines = (
        f'<li>{escape(sentence.get(code, code))} <span class="hint">{times}, first at {clock(first[code])}</span></li>'
        for code, times in ((code, "once" if count == 1 else f"{count} times") for code, count in counts)
    )
    return section("What the box reported", f"<ul>{''.join(lines)}</ul>", kind="reported")


def _settings(rehearsal: Rehearsal) -> str:
    if not rehearsal.settings:
        return ""
    entries = "".join(
        f"<div><dt>{escape(name.replace('_', ' '))}</dt><dd>{escape(value)}</dd></div>"
        for name, value in rehearsal.settings
    )
    caution = ""
    if rehearsal.level is None and any("level" in name for name, _ in rehearsal.settings):
        caution = words(HEARING, "hint")
    return section("Settings at the end", f'<dl class="settings">{entries}</dl>{caution}', kind="settings")


def _footer() -> str:
    told = "".join(f"<p>{escape(text)}</p>" for text in (CONSENT, DELETING))
    return f'<footer><p id="said" role="status"></p>{told}{words(PAPER, "paper")}</footer>'


@dataclass(frozen=True, slots=True)
class _Part:
    """A part of the page: how it is called in the line of links, its place, and what draws it up, or gives nothing."""

    name: str
    kind: str
    draw: Callable[[Rehearsal], str]


PARTS: Final = (
    _Part("Found", "found", _found),
    _Part("Over time", "time", _over_time),
    _Part("Degrees", "degrees", intonation_html),
    _Part("Written notes", "written", sections_html),
    _Part("Chords", "chords", chords_html),
    _Part("Timing", "timing", timing_html),
    _Part("Drills", "drills", drills_html),
    _Part("Trend", "trend", trend_html),
    _Part("Level", "level", _level),
    _Part("Takes", "takes", takes_html),
    _Part("Reported", "reported", _troubles),
    _Part("Settings", "settings", _settings),
)
"""The page from top to bottom."""
