"""USB-MIDI keyboards: none is no fault; one that is plugged in is named, and asked for a note that begins and ends."""

from __future__ import annotations

from typing import Final

from firmware.keyboard_events import KeyboardChanged, NoteOff, NoteOn
from firmware.selftest.ask import Ask, Do
from firmware.selftest.bench import Bench
from firmware.selftest.finding import Finding, found
from firmware.selftest.signals import KeyboardsFound
from firmware.selftest.step import Done, Step, of

NAME: Final = "keyboards"
NOTE_PATIENCE: Final = 20.0
SHOWN: Final = 20
"""Letters of a name that are asked for: what a keyboard calls itself may be long, and the screen is small."""


def _next(_bench: Bench, done: Done) -> Ask | None:
    if not of(done, Do.FIND_KEYBOARDS):
        return Ask(NAME, Do.FIND_KEYBOARDS)
    names = names_found(done)
    if not names or of(done, Do.PLAY_NOTE):
        return None
    which = names[0][:SHOWN].strip() if len(names) == 1 else f"one of {len(names)} keyboards"
    return Ask(NAME, Do.PLAY_NOTE, f"Play one note: {which}", patience=NOTE_PATIENCE)


def _judge(_bench: Bench, done: Done) -> tuple[Finding, ...]:
    names = names_found(done)
    refused = tuple(
        found("keyboard-refused", keyboard=name, error=error)
        for one in of(done, Do.FIND_KEYBOARDS)
        for event in one.events
        if isinstance(event, KeyboardsFound)
        for name, error in event.refused
    )
    asked = of(done, Do.PLAY_NOTE)
    if not asked:
        return refused
    events = asked[-1].events
    gone = [event.name for event in events if isinstance(event, KeyboardChanged) and not event.present]
    if gone:
        return (*refused, *(found("keyboard-gone", keyboard=name) for name in gone))
    begun = {event.note for event in events if isinstance(event, NoteOn)}
    ended = {event.note for event in events if isinstance(event, NoteOff)}
    if not begun:
        return (*refused, found("keyboard-silent", keyboard=", ".join(names)))
    return (*refused, *(found("keyboard-holds", note=note) for note in sorted(begun - ended)))


def names_found(done: Done) -> tuple[str, ...]:
    """Names of the keyboards that were there."""
    events = (event for one in of(done, Do.FIND_KEYBOARDS) for event in one.events)
    return next((event.names for event in events if isinstance(event, KeyboardsFound)), ())


STEP: Final = Step(NAME, "Keyboards", _next, _judge)
