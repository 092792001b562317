"""Listens to several players at once, all the time: what partials sound, and held chords when it is asked to."""

from __future__ import annotations

from firmware.heard_events import ChordHeld, ChordRead, PartialsHeard
from firmware.hearing.catch_partials import Partials
from firmware.hearing.chord_check import ChordCheck
from firmware.hearing.own_stream import CleanedStream, Hop
from firmware.music.harmony import Harmony
from firmware.units import RATE, Samples

Told = PartialsHeard | ChordRead | ChordHeld
Task = tuple[Harmony, bool]
"""By which harmony chords are read, and whether the chord is the harmony's own."""


class ChordListener:
    """Takes in the microphone and what the box plays; says what several players sound.

    Parameters
    ----------
    rate : int
        Samples per second of the microphone.
    stream : CleanedStream or None
        What takes own sound out, when it is shared with others; `hear` then takes its hops.
    """

    def __init__(self, rate: int = RATE, stream: CleanedStream | None = None) -> None:
        self._stream = stream if stream is not None else CleanedStream(rate)
        self._partials = Partials(self._stream.rate, self._stream.hop)
        self._wanted: Task | None = None
        self._task: Task | None = None
        self._check: ChordCheck | None = None

    def attend(self, harmony: Harmony | None, told: bool = False) -> None:  # noqa: FBT001, FBT002 - as the command says it
        """Read held chords by this harmony from the next block on, or none; may be called from any thread."""
        self._wanted = None if harmony is None else (harmony, told)

    def process(self, mic: Samples, own: Samples) -> tuple[Told, ...]:
        """Take in a block of the microphone and of what the box played at the same samples, both shape (n,)."""
        told: list[Told] = list(self.turn())
        for hop in self._stream.process(mic, own):
            told.extend(self.hear(hop))
        return tuple(told)

    def hear(self, hop: Hop) -> tuple[Told, ...]:
        """Take in a hop of the cleaned stream."""
        partials = self._partials.add(hop)
        return (*partials, *(() if self._check is None else self._check.add(hop)))

    def turn(self) -> tuple[ChordRead | ChordHeld, ...]:
        """Take up what was asked for last; the chord that was held is judged first."""
        wanted = self._wanted
        if wanted == self._task:
            return ()
        ended = self._check.finish() if self._check is not None else ()
        self._task = wanted
        self._check = None
        if wanted is not None:
            harmony, told = wanted
            self._check = ChordCheck(harmony, told=told, rate=self._stream.rate, hop=self._stream.hop)
        return ended
