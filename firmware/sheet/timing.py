"""The part of the sheet that tells how the players lay against the pulse."""

from __future__ import annotations

from typing import Final

from firmware.music.lateness import paced, placed
from firmware.sheet.columns import Column, Frame, columns
from firmware.sheet.html import scrolled, section, table, words
from firmware.sheet.rehearsal import Rehearsal, TimedPulse
from firmware.sheet.words import clock, listed

UNEVEN_MS: Final = 5.0
"""A place in the bar that lies so much further off than another is worth a word."""

MOST_PULSES: Final = 12
MOST_BEATS: Final = 16
MOST_WORDS: Final = 8

HINT: Final = (
    "A note begins where it reaches a third of the largest value of the 80 ms that follow; the way of the click "
    "through loudspeaker and room is taken off. Spread is counted like a standard deviation, drift left out."
)


def timing_html(rehearsal: Rehearsal) -> str:
    """Draw up the part; nothing when nobody played to a pulse. Of many pulses, those with the most notes."""
    if not rehearsal.timings:
        return ""
    most = sorted(rehearsal.timings, key=lambda pulse: -pulse.count)[:MOST_PULSES]
    pulses = sorted(most, key=lambda pulse: pulse.start_s)
    head = ("at", "bars", "notes", "middle", "spread", "drift")
    lines = [line for pulse in pulses for line in _lines(pulse)][:MOST_WORDS]
    told = "".join(words(f"{line}.") for line in lines)
    return section(
        "Timing against the pulse",
        f'<div class="columns"><div>{_beats(most[0])}</div><div>',
        table("Table of the pulses", head, map(_row, pulses)),
        f"{told}</div></div>",
        words(HINT, "hint"),
        kind="timing",
    )


def _beats(pulse: TimedPulse) -> str:
    """Picture of the places in the bar, of the pulse with the most notes."""
    beats = pulse.beats[:MOST_BEATS]
    if not beats:
        return ""
    told = listed([f"beat {beat} {placed(median)}" for beat, median, _ in beats])
    at = f"the pulse at {clock(pulse.start_s)}"
    frame = Frame("beats", f"By beat, in {at}: {told}.", ("beat", ""), height=104, least=20.0, most=100.0)
    entries = [
        Column(beat, median - spread, median, median + spread, f"beat {beat}: {placed(median)}")
        for beat, median, spread in beats
    ]
    hint = words(f"Milliseconds by place in the bar, late is up, in {at}; bar: spread to either side.", "hint")
    return scrolled(columns(frame, entries), "Picture of the beats") + hint


def _row(pulse: TimedPulse) -> tuple[str, ...]:
    drift = "–" if pulse.drift_percent is None else paced(pulse.drift_percent)
    bars = f"{pulse.first_bar}–{pulse.last_bar}"
    return (clock(pulse.start_s), bars, str(pulse.count), placed(pulse.median_ms), f"{pulse.spread_ms:.0f} ms", drift)


def _lines(pulse: TimedPulse) -> list[str]:
    """The place in the bar that lies furthest from the rest, and what happened in silent bars."""
    at = clock(pulse.start_s)
    lines = [f"At {at}, bars {first}–{last} without click: {paced(percent)}" for first, last, percent in pulse.free]
    far = max(pulse.beats, key=lambda one: abs(one[1] - pulse.median_ms), default=None)
    if far is not None and abs(far[1] - pulse.median_ms) >= UNEVEN_MS:
        beat, median, _ = far
        lines.insert(0, f"At {at}, beat {beat} lay furthest from the others: {placed(median)}")
    return lines
