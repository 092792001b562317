"""Gathers named readings of the ear into notes that a player held long enough to judge."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import fmean, median
from typing import Final

from firmware.heard_events import NoteHeld
from firmware.units import RATE, samples_of

AGREEING: Final = 3
"""Readings in a row of one note that begin it."""

GAP: Final = samples_of(0.25)
"""A note whose name was not heard for longer than this has ended (samples)."""

SHORTEST: Final = samples_of(0.5)
"""A note must last this long to be judged (samples)."""

RESTS: Final = samples_of(0.5)
"""A note has settled when it stays close for this long (samples)."""

SMOOTHED: Final = samples_of(0.1)
"""A pitch is judged close by the median of the readings so far on both sides: a vibrato does not unsettle it."""

LONGEST: Final = samples_of(120.0)
"""A note that goes on for longer is reported in parts, so that nothing grows without end (samples)."""

CALMED: Final = samples_of(0.2)
"""Steadiness is that of the mean over so long on both sides, two turns of a vibrato (samples)."""

TO_DEVIATION: Final = 1.4826
"""Median absolute deviation times this is the standard deviation of normally distributed readings."""


@dataclass(frozen=True, slots=True)
class NamedReading:
    """One reading with its name in the current key; `written` is the note as the section reads it."""

    at: int
    hz: float
    confidence: float
    degree: str
    concert: str
    written: str
    cents: float
    beats: float | None = None
    spread: float | None = None


@dataclass(frozen=True, slots=True)
class HeldState:
    """The note that sounds now, the last readings in a row that agree on something else, and what counts as close."""

    note: tuple[NamedReading, ...] = ()
    next: tuple[NamedReading, ...] = ()
    tolerance: float = 5.0


def step(
    state: HeldState, at: int, reading: NamedReading | None, tolerance: float
) -> tuple[HeldState, tuple[NoteHeld, ...]]:
    """Take one reading, or None for a reading of nothing.

    Parameters
    ----------
    state : HeldState
        What was gathered so far.
    at : int
        Sample count of the reading; never falls.
    reading : NamedReading or None
        What was heard.
    tolerance : float
        Cents that count as in tune, for `settled_after`.

    Returns
    -------
    HeldState, tuple of NoteHeld
        The new state, and the note that has ended, if one did.

    Notes
    -----
    One stray reading neither ends nor begins a note. `spread_cents` is 1.4826 times the median absolute deviation, or
    for several players the median of how far they were apart; `steadiness_cents` the same of the pitch without vibrato.
    """
    state = replace(state, tolerance=tolerance)
    gone = bool(state.note) and at - state.note[-1].at > GAP
    ended: tuple[NoteHeld, ...] = ()
    if gone:
        state, ended = finish(state)
    if reading is None:
        return replace(state, next=()), ended
    if state.note and reading.concert == state.note[0].concert:
        if at - state.note[0].at > LONGEST:
            full, part = finish(state)
            return replace(full, note=(reading,)), ended + part
        return replace(state, note=(*state.note, reading), next=()), ended
    waiting = state.next if state.next and state.next[0].concert == reading.concert else ()
    waiting = (*waiting, reading)
    if len(waiting) < AGREEING:
        return replace(state, next=waiting), ended
    _, before = finish(state)
    return replace(state, note=waiting, next=()), ended + before


def finish(state: HeldState) -> tuple[HeldState, tuple[NoteHeld, ...]]:
    """End the note that sounds, as when the ear is switched off or the key changes."""
    note = state.note
    if not note or note[-1].at - note[0].at < SHORTEST:
        return replace(state, note=(), next=()), ()
    cents = [reading.cents for reading in note]
    apart = [reading.spread for reading in note if reading.spread is not None]
    several = 2 * len(apart) > len(note)
    beats = [reading.beats for reading in note if reading.beats is not None]
    held = NoteHeld(
        at=note[-1].at,
        start=note[0].at,
        degree=note[-1].degree,
        concert=note[-1].concert,
        written=note[-1].written,
        median_cents=median(cents),
        spread_cents=median(apart) if several else deviation(cents),
        beats=median(beats) if beats else None,
        settled_after=settled_after(note, state.tolerance),
        steadiness_cents=deviation(_smoothed(note, CALMED, fmean)),
        players="several" if several else "one",
    )
    return replace(state, note=(), next=()), (held,)


def deviation(cents: list[float]) -> float:
    """Median absolute deviation, scaled to the standard deviation of normally distributed readings."""
    middle = median(cents)
    return TO_DEVIATION * median(abs(value - middle) for value in cents)


def settled_after(note: tuple[NamedReading, ...], tolerance: float) -> float | None:
    """Seconds from the start of a note until it first stays within `tolerance` cents for half a second, or None."""
    since: int | None = None
    for reading, cents in zip(note, _smoothed(note, SMOOTHED, median), strict=True):
        if abs(cents) > tolerance:
            since = None
            continue
        since = reading.at if since is None else since
        if reading.at - since >= RESTS:
            return (since - note[0].at) / RATE
    return None


def _smoothed(note: tuple[NamedReading, ...], reach: int, middle: Callable[[list[float]], float]) -> list[float]:
    """The middle of the cents up to `reach` samples around each reading."""
    result: list[float] = []
    first = last = 0
    for reading in note:
        while note[first].at < reading.at - reach:
            first += 1
        while last < len(note) and note[last].at <= reading.at + reach:
            last += 1
        result.append(middle([each.cents for each in note[first:last]]))
    return result
