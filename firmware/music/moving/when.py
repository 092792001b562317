"""When the pulse moves a chord: places on the beats of a program."""

from __future__ import annotations

from dataclasses import dataclass

from firmware.music.program import Beat, Program


@dataclass(frozen=True, slots=True)
class Place:
    """A beat of a program: its bar, and its number in it from 1."""

    bar: int
    beat: int

    def time(self, program: Program) -> float | None:
        """Seconds from time 0 of the program, None where it has no such beat."""
        return next((beat.time for beat in program.beats(self.bar) if beat.beat == self.beat), None)


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
