"""When the pulse moves a chord: places on the beats of a program."""

from __future__ import annotations

from dataclasses import dataclass, replace

from firmware.music.program import Beat, Program
from firmware.units import RATE


@dataclass(frozen=True, slots=True)
class Place:
    """A beat of a program: its bar, and its number in it from 1."""

    bar: int
    beat: int

    def time(self, program: Program) -> float | None:
        """Seconds from time 0 of the program, None where it has no such beat."""
        return next((beat.time for beat in program.beats(self.bar) if beat.beat == self.beat), None)


@dataclass(frozen=True, slots=True)
class Running:
    """A pulse that moves something: its run, its program from sample `start` on, and where the next change is."""

    run: int
    program: Program
    start: float
    change: Place | None = None

    @property
    def due(self) -> int | None:
        """Sample of the next change; None if the program has no such beat."""
        time = None if self.change is None else self.change.time(self.program)
        return None if time is None else round(self.start + time * RATE)

    def here(self, at: int) -> Place:
        """First beat of the bar that is under way at a sample."""
        return first_place(self.program, (at - self.start) / RATE)


def followed(before: Running | None, run: int, program: Program | None, start: float) -> Running | None:
    """Follow a pulse: None when it has stopped, from its first bar when it has started anew."""
    if program is None:
        return None
    if before is not None and before.run == run:
        return replace(before, program=program, start=start)
    return Running(run, program, start, first_place(program))


def first_place(program: Program, seconds: float = 0.0) -> Place:
    """Return the first beat of bar 1, or of the bar that is under way at a time after it."""
    return Place(max(1, program.bar_at(seconds)), 1)


def next_change(program: Program, place: Place, beats: int) -> Place:
    """Return the beat on which a chord ends that began at a place and stays for so many beats; 0 is to the bar line.

    Beyond the last bar of a program bars go on to be counted as the last one; `Place.time` says that they have no time.
    """
    if not beats:
        return Place(place.bar + 1, 1)
    left = beats
    bar, beat = place.bar, place.beat
    while True:
        inside: tuple[Beat, ...] = program.beats(bar)
        rest = (inside[-1].beat if inside else beat) - beat + 1
        if left < rest:
            return Place(bar, beat + left)
        left -= rest
        bar, beat = bar + 1, 1
        if not inside or not left:
            return Place(bar, beat)
