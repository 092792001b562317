"""The chord check: follows the cleaned stream, finds where a chord is held, reads it again and again."""

from __future__ import annotations

import math
from statistics import median
from typing import Final

import numpy as np

from firmware.heard_events import ChordDegree, ChordHeld, ChordRead
from firmware.hearing.chord import DegreeReading, Target, level_step, read_chord
from firmware.hearing.chord_change import Profile, alike
from firmware.hearing.chord_find import Chord, chord_of, find_chord
from firmware.hearing.chord_spectrum import ChordSpectrum, Removed, nothing_removed
from firmware.hearing.filters import Signal
from firmware.hearing.own_stream import Hop
from firmware.music.harmony import Harmony
from firmware.units import RATE, db_of

QUIETEST_DB: Final = -60.0
"""Under this level (RMS, dB re full scale) there is silence."""

SETTLE_SECONDS: Final = 0.16
"""The attacks of the players are left out."""

LEAST_SECONDS: Final = 1.0
LONGEST_SECONDS: Final = 1.4
"""Stretch that is read: the last so many seconds. A longer one would blur players who are moving."""

EVERY_SECONDS: Final = 0.4
"""Time between two readings."""

PROFILE_SECONDS: Final = 0.32
REMOVED_SHARE: Final = 10 ** (-14 / 10)
"""What is left must be stronger than our own sound that was removed less 14 dB, or it may be what is left of that."""

LONGEST_HELD_SECONDS: Final = 60.0
"""A chord that goes on for longer is judged in parts, so that nothing grows without end."""

FALLEN_DB: Final = 12.0
"""A chord that has fallen this far under its loudest hop has ended: the room rings on."""

Told = ChordRead | ChordHeld


class ChordCheck:
    """Reads held chords.

    Parameters
    ----------
    harmony : Harmony
        Key, tuning, reference; the chord too if it is told.
    told : bool
        Whether the chord is the harmony's own; otherwise it is found among those of the key.
    rate : float
        Samples per second of the cleaned stream.
    hop : int
        Samples of the cleaned stream that come at a time.
    """

    def __init__(self, harmony: Harmony, *, told: bool, rate: float, hop: int) -> None:
        self._harmony = harmony
        self._chord = chord_of(harmony) if told else None
        self._rate = rate
        self._hop = hop
        self._profile = Profile(self._hops(PROFILE_SECONDS) * hop, rate)
        self._removed: Removed = nothing_removed
        self._end = 0
        self._forget()

    def _hops(self, seconds: float) -> int:
        return max(1, math.ceil(seconds * self._rate / self._hop))

    def _forget(self) -> None:
        self._sound: list[Signal] = []
        self._count = 0
        self._loudest = -math.inf
        self._sum: Signal = np.zeros(0)
        self._readings: list[tuple[Chord, tuple[DegreeReading, ...]]] = []

    def add(self, hop: Hop) -> tuple[Told, ...]:
        """Take in one hop; answers with a reading of the chord that is held, or the judgement of one that ended."""
        power = float(hop.rest @ hop.rest) / len(hop.rest)
        level = db_of(math.sqrt(power))
        fallen = level < self._loudest - FALLEN_DB
        if hop.removed is None or level < QUIETEST_DB or power < REMOVED_SHARE * hop.removed_power or fallen:
            return self.finish()
        if self._count > self._hops(LONGEST_HELD_SECONDS):
            return self.finish()
        self._end = hop.end
        self._removed = hop.removed
        self._loudest = max(level, self._loudest)
        self._count += 1
        self._sound = [*self._sound, hop.rest][-self._hops(LONGEST_SECONDS) :]
        ended = self._changed()
        return ended + self._due()

    def finish(self) -> tuple[Told, ...]:
        """End the chord, as when the players stop; judges it if it was read at least once or is just long enough."""
        held = self._held()
        if not self._readings and held >= self._hops(LEAST_SECONDS):
            self._read(held)
        judged = self._judged()
        was = bool(self._readings)
        self._forget()
        return (*judged, ChordRead(self._end, self._end, "", "", 0.0, ())) if was else judged

    def _held(self) -> int:
        """Hops of the chord after its attacks."""
        return self._count - self._hops(SETTLE_SECONDS)

    def _changed(self) -> tuple[Told, ...]:
        """Begin anew when the partials have moved elsewhere."""
        span = self._hops(PROFILE_SECONDS)
        if self._held() < span or self._count % (span // 2):
            return ()
        now = self._profile.of(np.concatenate(self._sound[-span:]))
        if len(self._sum) and not alike(self._sum, now):
            # The stretch that told of the change may hold the old chord in its first half.
            latest = self._sound[-span // 2 :]
            ended = self.finish()
            self._sound, self._count = latest, len(latest)
            return ended
        self._sum = self._sum + now if len(self._sum) else now
        return ()

    def _due(self) -> tuple[Told, ...]:
        held = self._held()
        first = self._hops(LEAST_SECONDS)
        if held < first or (held - first) % self._hops(EVERY_SECONDS):
            return ()
        self._read(held)
        if not self._readings:
            return ()
        chord, _ = self._readings[-1]
        same = [degrees for other, degrees in self._readings if other == chord]
        degrees = tuple(
            _told(target, each[-1:], self._seconds(each), each[-1].why)
            for target, each in zip(chord.targets, zip(*same, strict=True), strict=True)
        )
        return (ChordRead(self._end, self._start(), chord.name, chord.degree, self._whole(), degrees),)

    def _read(self, held: int) -> None:
        sound = np.concatenate(self._sound[-min(held, self._hops(LONGEST_SECONDS)) :])
        spectrum = ChordSpectrum(sound, self._rate, self._removed)
        chord = self._chord or find_chord(spectrum, self._harmony)
        if chord is not None:
            self._readings.append((chord, read_chord(spectrum, chord.targets)))

    def _judged(self) -> tuple[Told, ...]:
        """The chord that was found most often, each degree by the median of its readings."""
        if not self._readings:
            return ()
        chords = [chord for chord, _ in self._readings]
        chord = max(chords, key=chords.count)
        same = [degrees for other, degrees in self._readings if other == chord]
        degrees = tuple(
            _told(target, [one for one in each if one.accepted] or each[-1:], self._seconds(each), each[-1].why)
            for target, each in zip(chord.targets, zip(*same, strict=True), strict=True)
        )
        return (ChordHeld(self._end, self._start(), chord.name, chord.degree, self._whole(), degrees),)

    def _seconds(self, each: tuple[DegreeReading, ...]) -> float:
        """Seconds of sound over which a degree was read: the first reading's stretch, and what each later one added."""
        count = sum(one.accepted for one in each)
        return round(min(self._whole(), LEAST_SECONDS + (count - 1) * EVERY_SECONDS), 2) if count else 0.0

    def _whole(self) -> float:
        return round(self._held() * self._hop / self._rate, 2)

    def _start(self) -> int:
        return max(0, self._end - round(self._count * self._hop / self._rate * RATE))


def _told(
    target: Target, readings: tuple[DegreeReading, ...] | list[DegreeReading], seconds: float, why: str
) -> ChordDegree:
    """What is said of one degree, from those of its readings that count."""
    cents = [one.cents for one in readings if one.cents is not None]
    levels = [one.level_db for one in readings if one.level_db is not None]
    if not cents or not levels:
        return ChordDegree(target.degree, target.note, None, "", accepted=False, why=why, seconds=0.0)
    return ChordDegree(
        target.degree, target.note, median(cents), level_step(median(levels)), accepted=True, why="", seconds=seconds
    )
