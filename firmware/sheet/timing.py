"""The part of the sheet that tells how the players lay against the pulse."""

from __future__ import annotations

from html import escape
from typing import Final

from firmware.heard_events import PulseTimed
from firmware.music.lateness import paced, placed
from firmware.sheet.rehearsal import TimedPulse
from firmware.sheet.words import clock
from firmware.units import RATE

UNEVEN_MS: Final = 5.0
"""A place in the bar that lies so much further off than another is worth a word."""


def timed_pulse(event: PulseTimed, rate: int = RATE) -> TimedPulse:
    """What was found about one pulse, in seconds instead of samples."""
    return TimedPulse(
        start_s=event.start / rate,
        first_bar=event.first_bar,
        last_bar=event.last_bar,
        count=event.count,
        median_ms=event.median_ms,
        spread_ms=event.spread_ms,
        drift_percent=event.drift_percent,
        beats=event.beats,
        free=event.free,
    )


def timing_html(pulses: tuple[TimedPulse, ...]) -> str:
    """Draw up the section; nothing when nobody played to a pulse."""
    if not pulses:
        return ""
    head = "".join(f'<th scope="col">{name}</th>' for name in ("at", "bars", "notes", "median", "spread, ms", "drift"))
    rows = "".join(map(_row, pulses))
    words = "".join(f"<li>{escape(line)}</li>" for pulse in pulses for line in _lines(pulse))
    hint = (
        "A note begins where it reaches a third of the largest value of the 80 ms that follow; the way of the click "
        "through loudspeaker and room is taken off. Spread is counted like a standard deviation, drift left out."
    )
    return (
        f"<section><h2>Timing against the pulse</h2><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
        f'{f"<ul>{words}</ul>" if words else ""}<p class="hint">{hint}</p></section>'
    )


def _row(pulse: TimedPulse) -> str:
    drift = "–" if pulse.drift_percent is None else paced(pulse.drift_percent)
    bars = f"{pulse.first_bar}–{pulse.last_bar}"
    cells = (bars, str(pulse.count), placed(pulse.median_ms), f"{pulse.spread_ms:.0f}", drift)
    return (
        f'<tr><th scope="row">{clock(pulse.start_s)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in cells)}</tr>'
    )


def _lines(pulse: TimedPulse) -> list[str]:
    """The place in the bar that lies furthest from the rest, and what happened in silent bars."""
    at = clock(pulse.start_s)
    lines = [f"At {at}, bars {first}–{last} without click: {paced(percent)}" for first, last, percent in pulse.free]
    far = max(pulse.beats, key=lambda one: abs(one[1] - pulse.median_ms), default=None)
    if far is not None and abs(far[1] - pulse.median_ms) >= UNEVEN_MS:
        beat, median, _ = far
        lines.insert(0, f"At {at}, beat {beat} lay furthest from the others: {placed(median)}")
    return lines
