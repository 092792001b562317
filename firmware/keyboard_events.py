"""What a MIDI keyboard does, as frozen values. `at` is a sample count; notes are MIDI numbers, middle C is 60."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.events import Event


@dataclass(frozen=True, slots=True)
class NoteOn(Event):
    """A key of the keyboard went down, with a velocity from 1 to 127."""

    note: int
    velocity: int = 64


@dataclass(frozen=True, slots=True)
class NoteOff(Event):
    """A key of the keyboard came up."""

    note: int


@dataclass(frozen=True, slots=True)
class SustainChanged(Event):
    """The keyboard's sustain pedal went down or came up."""

    down: bool


@dataclass(frozen=True, slots=True)
class KeyboardChanged(Event):
    """A keyboard came, with its name, or went; what it held is let go."""

    present: bool
    name: str = ""
