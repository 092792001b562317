"""Follows a player through the box's own answer, on the partials that the answer leaves free."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firmware.heard_events import Heard
from firmware.hearing.answer_lines import RING_SECONDS, Ringing, Sounding, lines_of, without_lines
from firmware.hearing.answer_partials import TOP_HZ, Looks, look
from firmware.hearing.answer_still import Stillness
from firmware.hearing.filters import Fir, Signal, whitener
from firmware.hearing.pitch import LENGTHS, Pitch, read_pitch
from firmware.music.answer import FREE
from firmware.units import cents_of

NEW_LOOKS: Final = 4
"""Looks of a hop; the others are those of the hop before."""

DROP: Final = 10 ** (-6 / 10)
"""A player whose free partials fall so far, all together, has stopped: the direct sound has gone, the room rings on."""

PARTIAL_DROP: Final = 10 ** (-11 / 10)
"""A strong partial that falls so far asks whether it is still the same note."""

STRONG: Final = 0.1
FADES: Final = 10 ** (-15 * 0.04 / 10)
"""What counts as the player's level follows a diminuendo of 15 dB a second; a room of 1.2 s falls by 50."""

OVER_NOISE: Final = 5.0
OVER_ANSWER: Final = 10 ** (-33 / 10)
"""The free partials of a player must be so strong against the lines of the answer; a low clarinet has -32 dB."""

LOOK_DOWN: Final = 3
"""Looks in a row that must have fallen."""

HOLDS: Final = 10 ** (-1.5 / 10)
"""A note that begins, or goes on, does not fall by more than this in 60 ms; a room of 1.2 s falls by 3 dB."""

COMES_BACK: Final = 10 ** (5 / 10)
"""A note that was lost is there again when it has risen by this from its least; what rings in a room never does."""

COVERED_HOPS: Final = 10
"""For 0.4 s the ring of the answer before may be what falls on a covered partial; then it is the player."""

STAYS: Final = 10 ** (-9 / 10)
STAYS_HOPS: Final = 5
"""A note that has so much of its level 0.2 s after it was lost was not lost: a room takes 13 dB by then, or more."""

RETURNS: Final = 10 ** (-4 / 10)
"""Before that it must have returned to so much: it was lost at less, and what rings goes on falling."""

AGREEING: Final = 2
AGREEING_ON_MULTIPLES: Final = 4
"""Hops in a row that must find the same note; one of the lost note's partials may be what is left of it for a while."""

FALLS_HOPS: Final = 3
FALLS: Final = 10 ** (-2.5 / 10)
"""While all that is left has fallen by more than this in 0.12 s, it only rings: a room of 1.2 s takes 6 dB."""

AGREEING_CENTS: Final = 60.0
LEAST_FREE_SHARE: Final = 0.35
BOTH: Final = 0.03

LEAST_SHARE: Final = 0.6
SAME_CENTS: Final = 70.0
"""A reading this close to the note that is followed is that note."""

LEAST_READ: Final = 10 ** (-15 / 10)
"""A reading must be so strong against what was taken out on our lines, which the fit always takes further down."""

QUIETEST: Final = 10 ** (-66 / 10)
"""Under this mean square there is silence."""

LISTEN_HOPS: Final = 12
"""When in doubt the answer stops, in 0.16 s, and the ear waits for 0.48 s, until a room has taken 9 dB of it."""

WHOLE_CENTS: Final = 12.0
DIES_HOPS: Final = 8
"""A pitch of which the answer is a whole multiple may be what a loudspeaker makes of it and the drone together: their
difference tones. It is believed when it is still there 0.32 s after the answer has ended; they end with it.
"""

NOTCH_TURNS: Final = 1.0
"""A partial that is less than this many turns a window off a line is taken out with it."""

FIFTH: Final = 5
PRESENT: Final = 0.001
"""A partial with this share of the power (-30 dB) is there."""


@dataclass(frozen=True, slots=True)
class Lost:
    """A note that is no longer heard: what its free partials had before, the least since, and for how many hops."""

    hz: float
    before: float
    least: float
    hops: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """The last window without our lines: whitened, shape (n,); mean square of what is left, and of what was taken."""

    bright: Signal
    left: float
    taken: float


class AnswerFollower:
    """Reads the player while an answer of ours sounds or rings, and hands the ear's readings on when none does.

    Parameters
    ----------
    rate : float
        Samples per second of the cleaned stream.
    hop : int
        Samples that come at a time.
    answer : function
        Gives the answer that the engine is asked for now.

    Notes
    -----
    While a player is followed, presence and pitch come from the free partials alone (`firmware.music.answer`). A note
    that is not followed yet is read in the sound without our lines, and believed when it does not fall: what rings in
    a room, ours or a player's, falls.
    """

    def __init__(self, rate: float, hop: int, answer: Callable[[], Sounding]) -> None:
        self._rate = rate
        self._hop = hop
        self._answer = answer
        self._ringing = Ringing(round(RING_SECONDS * rate / hop))
        self._white = Fir(whitener())
        self._plain: Signal = np.zeros(LENGTHS[-1])
        self._bright: Signal = np.zeros(LENGTHS[-1])
        self._hz: float | None = None
        self._levels: NDArray[np.float64] | None = None
        self._numbers: NDArray[np.int64] = np.zeros(0, np.int64)
        self._lost: Lost | None = None
        self._found_before: float | None = None
        self._agreed = 0
        self._lefts: tuple[float, ...] = ()
        self._still = Stillness()
        self._age = 0
        self._listens = 0
        self._removed = 0.0
        self._over = DIES_HOPS

    @property
    def busy(self) -> bool:
        """Whether anything of an answer may be heard."""
        return self._ringing.any

    def hear(self, rest: Signal, heard: Heard, removed: float = 0.0) -> Heard:
        """Take in a hop.

        Parameters
        ----------
        rest : Signal
            Without drone and with the answer, shape (hop,).
        heard : Heard
            What the ear read in it.
        removed : float
            Mean square of what was taken out of it: the louder the drone, the louder what a loudspeaker makes of it.
        """
        self._removed = removed
        self._plain = np.concatenate([self._plain, rest])[-LENGTHS[-1] :]
        self._bright = np.concatenate([self._bright, self._white.process(rest)])[-LENGTHS[-1] :]
        answer = self._answer()
        before = self._ringing.any
        self._ringing.step(answer)
        self._over = 0 if answer.on else self._over + 1
        if not self._ringing.any:
            if before:
                self._still.forget()
            self._follow(heard.hz)
            self._lost = self._found_before = None
            self._listens = 0
            return heard
        lines = self._ringing.lines()
        if self._listens:
            return self._listened(lines, heard)
        own = lines_of(answer.hz, answer.octave) if answer.on else np.zeros(0)
        if self._hz is not None:
            told = self._followed(self._hz, lines, own, answer, heard)
            if told is not None:
                self._lefts = ()
                return told
        return self._searched(lines, heard)

    def _follow(self, hz: float | None) -> None:
        self._hz = hz
        self._levels = None
        self._still.begin()
        self._age = 0

    def _followed(self, hz: float, lines: Signal, own: Signal, answer: Sounding, heard: Heard) -> Heard | None:
        """The reading of the player who is followed; None when there is another note, or none."""
        looks = look(self._plain, hz, lines, own, self._rate)
        wanted = [number for number in FREE if number * hz < TOP_HZ]
        covered = looks is None or not np.isin(wanted, looks.numbers).all()
        if covered:
            # The ring of the answer before may lie on them, after a leap of an octave say; it fades under the player.
            looks = look(self._plain, hz, own, own, self._rate)
        if looks is None or not self._present(looks):
            self._lose(looks, hz)
            return None
        if looks.hz is None or self._changed(looks):
            reading = self._read(lines, self._without(lines))
            if reading is not None and abs(cents_of(reading.hz / hz)) > SAME_CENTS:
                self._lose(looks, hz)
                return None
        self._remember(looks)
        self._age += 1
        if covered and self._age < COVERED_HOPS:
            self._levels = None
        if looks.hz is not None and abs(cents_of(looks.hz / hz)) < SAME_CENTS:
            self._hz = looks.hz
        if answer.on and self._still.doubts(looks.hz):
            # The answer stops and all listen: a player goes on, and what we made ourselves ends with it.
            self._lose(looks, hz)
            self._listens = LISTEN_HOPS
            return self._nothing(heard, "own sound")
        share = float(looks.total[-1] / (looks.total[-1] + len(looks.numbers) * looks.noise))
        return self._told(self._hz or hz, share, heard)

    def _lose(self, looks: Looks | None, hz: float) -> None:
        if looks is not None:
            now = float(looks.total[-LOOK_DOWN:].mean())
            self._lost = Lost(hz, float(self._levels.sum()) if self._levels is not None else now, now)
        self._follow(None)

    def _present(self, looks: Looks) -> bool:
        new, own = looks.total[-NEW_LOOKS:], looks.own[-NEW_LOOKS:]
        least = np.maximum(OVER_NOISE * looks.noise * math.sqrt(len(looks.numbers)), OVER_ANSWER * own)
        if self._levels is not None and np.array_equal(looks.numbers, self._numbers):
            least = np.maximum(least, DROP * float(self._levels.sum()))
        fallen = new < least
        return not bool(fallen[-LOOK_DOWN:].all())

    def _changed(self, looks: Looks) -> bool:
        """Whether a strong partial has fallen while others hold."""
        if self._levels is None or not np.array_equal(looks.numbers, self._numbers):
            return False
        strong = self._levels > STRONG * float(self._levels.sum())
        return bool((looks.power[-LOOK_DOWN:, strong] < PARTIAL_DROP * self._levels[strong]).all(axis=0).any())

    def _remember(self, looks: Looks) -> None:
        """Level of each free partial: at once when it rises, slowly when it falls."""
        now = looks.power[-NEW_LOOKS:].mean(axis=0)
        same = self._levels is not None and np.array_equal(looks.numbers, self._numbers)
        self._levels = np.maximum(now, FADES * self._levels) if same and self._levels is not None else now
        self._numbers = looks.numbers

    def _listened(self, lines: Signal, heard: Heard) -> Heard:
        """Wait until the answer has died away; a player who then has his level still has been one all the time."""
        self._listens -= 1
        if self._listens or self._lost is None:
            return self._nothing(heard, "own sound")
        hz, before = self._lost.hz, self._lost.before
        looks = look(self._plain, hz, lines, np.zeros(0), self._rate)
        if looks is None or looks.hz is None or float(looks.total[-LOOK_DOWN:].mean()) < STAYS * before:
            return self._nothing(heard, "own sound")
        self._follow(hz)
        self._lost = None
        return self._told(hz, float(looks.total[-1] / (looks.total[-1] + len(looks.numbers) * looks.noise)), heard)

    def _searched(self, lines: Signal, heard: Heard) -> Heard:
        """Look for a note: the one that was lost come back, one of the answers' own, or another."""
        hz, share = self._found(lines)
        same = hz is not None and self._found_before is not None
        same = same and abs(cents_of((hz or 1.0) / (self._found_before or 1.0))) < AGREEING_CENTS
        self._agreed = self._agreed + 1 if same else 1
        self._found_before = hz
        if hz is not None and self._over < DIES_HOPS and self._is_difference(hz):
            return self._nothing(heard, "silence")
        if hz is None or self._agreed < (AGREEING_ON_MULTIPLES if self._is_partial(hz) else AGREEING):
            return self._nothing(heard, "silence")
        self._follow(hz)
        self._lost = None
        return self._told(hz, share, heard)

    def _is_difference(self, hz: float) -> bool:
        """Whether a pitch may be a difference tone of answer and drone."""
        if self._removed < QUIETEST:
            return False
        ratios = [target / hz for target in self._ringing.targets()]
        return any(ratio > 1.5 and abs(cents_of(ratio / round(ratio))) < WHOLE_CENTS for ratio in ratios)

    def _is_partial(self, hz: float) -> bool:
        """Whether a pitch may be a partial of the note that was lost."""
        ratio = hz / self._lost.hz if self._lost is not None else 0.0
        return ratio > 1.5 and abs(cents_of(ratio / round(ratio))) < SAME_CENTS

    def _found(self, lines: Signal) -> tuple[float | None, float]:
        """Pitch of a note that may be believed, and what share of the sound it is."""
        rest = self._without(lines)
        self._lefts = (*self._lefts, rest.left)[-FALLS_HOPS - 1 :]
        back = self._comes_back(lines, rest)
        if back is not None:
            return back
        if rest.left < FALLS * self._lefts[0]:
            return None, 0.0
        for hz in self._ringing.targets():
            known = self._on_target(hz, lines, rest)
            if known is not None:
                return known
        pitch = self._read(lines, rest)
        if pitch is None or self._is_lost(pitch.hz):
            return None, 0.0
        looks = look(self._plain, pitch.hz, lines, np.zeros(0), self._rate)
        return (pitch.hz, pitch.share) if looks is not None and _holds(looks) else (None, 0.0)

    def _is_lost(self, hz: float) -> bool:
        return self._lost is not None and abs(cents_of(hz / self._lost.hz)) < SAME_CENTS

    def _comes_back(self, lines: Signal, rest: Rest) -> tuple[float, float] | None:
        """The note that was lost, when it has risen again from where it had fallen to, or has not fallen at all."""
        if self._lost is None:
            return None
        looks = look(self._plain, self._lost.hz, lines, np.zeros(0), self._rate)
        if looks is None:
            return None
        level = float(looks.total[-LOOK_DOWN:].mean())
        lost = self._lost = replace(self._lost, least=min(self._lost.least, level), hops=self._lost.hops + 1)
        risen = level > COMES_BACK * lost.least
        stayed = level > (STAYS if lost.hops >= STAYS_HOPS else RETURNS) * lost.before
        if not (risen or stayed) or not _holds(looks):
            return None
        return self._believed(looks, rest)

    def _on_target(self, hz: float, lines: Signal, rest: Rest) -> tuple[float, float] | None:
        """A player on the target of an answer that rings, whom the fit of our lines takes with them but for a part."""
        if self._is_lost(hz):
            return None
        looks = look(self._plain, hz, lines, np.zeros(0), self._rate)
        if looks is None or not _holds(looks):
            return None
        # Both free partials must be there: one alone may be of a note a fifth or an octave away.
        power = looks.power[-LOOK_DOWN:].mean(axis=0)
        pair = power[np.isin(looks.numbers, FREE)]
        return self._believed(looks, rest) if len(pair) and pair.min() > BOTH * power.sum() else None

    @staticmethod
    def _believed(looks: Looks, rest: Rest) -> tuple[float, float] | None:
        """Pitch and share of what is on free partials, when that is most of what is left without our lines."""
        level = float(looks.total[-LOOK_DOWN:].mean())
        share = level / max(rest.left, level, 1e-30)
        clear = level > max(OVER_NOISE * looks.noise * math.sqrt(len(looks.numbers)), OVER_ANSWER * rest.taken)
        if looks.hz is None or share < LEAST_FREE_SHARE or not clear or level < QUIETEST:
            return None
        return looks.hz, share

    def _without(self, lines: Signal) -> Rest:
        """Sound of the last window without our lines, and its power."""
        length = LENGTHS[1]
        plain = self._plain[-length:]
        left = without_lines(plain, lines, self._rate)
        bright = without_lines(self._bright[-length:], lines, self._rate)
        power = float(left @ left) / length
        return Rest(bright, power, max(float(plain @ plain) / length - power, 0.0))

    def _read(self, lines: Signal, rest: Rest) -> Pitch | None:
        """Read a pitch in what is left without our lines."""
        if rest.left < max(QUIETEST, LEAST_READ * (rest.taken + self._removed)):
            return None
        padded = np.concatenate([np.zeros(LENGTHS[-1] - len(rest.bright)), rest.bright])
        pitch = read_pitch(padded, self._rate, self._hz, longest=len(rest.bright))
        if pitch is None or pitch.share < LEAST_SHARE or not _single(pitch, lines, self._rate):
            return None
        return pitch

    @staticmethod
    def _told(hz: float, share: float, heard: Heard) -> Heard:
        return Heard(heard.at, hz, min(share, 1.0), heard.level_db)

    @staticmethod
    def _nothing(heard: Heard, why: str) -> Heard:
        return Heard(heard.at, None, 0.0, heard.level_db, why)


def _holds(looks: Looks) -> bool:
    """Whether a note does not fall, as everything does that only rings."""
    return bool(looks.total[-2:].mean() > HOLDS * looks.total[:2].mean())


def _single(pitch: Pitch, lines: Signal, rate: float) -> bool:
    """Whether the low partials are those of one tone; those that were taken out with our lines are believed."""
    there = pitch.power > PRESENT * float(np.maximum(pitch.power, 0.0).sum())
    if len(lines):
        hz = pitch.hz * np.arange(1.0, len(there) + 1)
        there |= np.abs(hz[:, None] - lines).min(axis=1) < NOTCH_TURNS * rate / LENGTHS[1]
    return bool(there[0]) or (len(there) >= FIFTH and bool(there[1] and there[2] and there[FIFTH - 1]))
