"""Follows a player through the box's own answer, on the partials that the answer leaves free."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from firmware.heard_events import Heard
from firmware.hearing.answer_lines import RING_SECONDS, Ringing, Sounding, lines_of
from firmware.hearing.answer_partials import TOP_HZ, Looks, look
from firmware.hearing.answer_presence import LOOK_DOWN, Presence, holds, latest, share_of
from firmware.hearing.answer_rest import QUIETEST, SAME_CENTS, Rest, believed, clear, read_rest, rest_of, same
from firmware.hearing.answer_still import Stillness
from firmware.hearing.filters import Fir, Signal, whitener
from firmware.hearing.pitch import LENGTHS, Pitch
from firmware.music.answer import FREE
from firmware.units import cents_of

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
BOTH: Final = 0.03

LISTEN_HOPS: Final = 12
"""When in doubt the answer stops, in 0.16 s, and the ear waits for 0.48 s, until a room has taken 9 dB of it."""

WHOLE_CENTS: Final = 12.0
DIES_HOPS: Final = 8
"""A pitch of which the answer is a whole multiple may be what a loudspeaker makes of it and the drone together: their
difference tones. It is believed when it is still there 0.32 s after the answer has ended; they end with it.
"""


@dataclass(frozen=True, slots=True)
class Lost:
    """A note that is no longer heard: what its free partials had before, the least since, and for how many hops."""

    hz: float
    before: float
    least: float
    hops: int = 0


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
        self._presence = Presence()
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
        self._presence.forget()
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
        if looks is None or not self._presence.lasts(looks) or self._is_another(hz, lines, looks):
            self._lose(looks, hz)
            return None
        self._presence.remember(looks)
        self._age += 1
        if covered and self._age < COVERED_HOPS:
            self._presence.forget()
        if looks.hz is not None and same(looks.hz, hz):
            self._hz = looks.hz
        if answer.on and self._still.doubts(looks.hz):
            # The answer stops and all listen: a player goes on, and what we made ourselves ends with it.
            self._lose(looks, hz)
            self._listens = LISTEN_HOPS
            return self._nothing(heard, "own sound")
        return self._told(self._hz or hz, share_of(looks), heard)

    def _is_another(self, hz: float, lines: Signal, looks: Looks) -> bool:
        """Whether the note that is followed has become another, or has ended but for what a loudspeaker distorts."""
        changed = self._presence.changed(looks)
        if looks.hz is not None and not changed:
            return False
        reading = self._read(self._rest(lines))
        if reading is None or self._may_be_difference(reading.hz):
            return changed
        return not same(reading.hz, hz)

    def _lose(self, looks: Looks | None, hz: float) -> None:
        if looks is not None:
            now = latest(looks)
            self._lost = Lost(hz, self._presence.before(now), now)
        self._follow(None)

    def _listened(self, lines: Signal, heard: Heard) -> Heard:
        """Wait until the answer has died away; a player who then has his level still has been one all the time."""
        self._listens -= 1
        if self._listens or self._lost is None:
            return self._nothing(heard, "own sound")
        hz, before = self._lost.hz, self._lost.before
        looks = look(self._plain, hz, lines, np.zeros(0), self._rate)
        if looks is None or looks.hz is None or latest(looks) < STAYS * before:
            return self._nothing(heard, "own sound")
        self._follow(hz)
        self._lost = None
        return self._told(hz, share_of(looks), heard)

    def _searched(self, lines: Signal, heard: Heard) -> Heard:
        """Look for a note: the one that was lost come back, one of the answers' own, or another."""
        hz, share = self._found(lines)
        before, self._found_before = self._found_before, hz
        again = hz is not None and before is not None and abs(cents_of(hz / before)) < AGREEING_CENTS
        self._agreed = self._agreed + 1 if again else 1
        if hz is not None and self._may_be_difference(hz):
            return self._nothing(heard, "silence")
        if hz is None or self._agreed < (AGREEING_ON_MULTIPLES if self._is_partial(hz) else AGREEING):
            return self._nothing(heard, "silence")
        self._follow(hz)
        self._lost = None
        return self._told(hz, share, heard)

    def _may_be_difference(self, hz: float) -> bool:
        """Whether a pitch may be a difference tone of answer and drone."""
        if self._over >= DIES_HOPS or self._removed < QUIETEST:
            return False
        ratios = [target / hz for target in self._ringing.targets()]
        return any(ratio > 1.5 and abs(cents_of(ratio / round(ratio))) < WHOLE_CENTS for ratio in ratios)

    def _is_partial(self, hz: float) -> bool:
        """Whether a pitch may be a partial of the note that was lost."""
        ratio = hz / self._lost.hz if self._lost is not None else 0.0
        return ratio > 1.5 and abs(cents_of(ratio / round(ratio))) < SAME_CENTS

    def _found(self, lines: Signal) -> tuple[float | None, float]:
        """Pitch of a note that may be believed, and what share of the sound it is."""
        rest = self._rest(lines)
        self._lefts = (*self._lefts, rest.left)[-FALLS_HOPS - 1 :]
        back = self._comes_back(rest)
        if back is not None:
            return back
        if rest.left < FALLS * self._lefts[0]:
            return None, 0.0
        for hz in self._ringing.targets():
            known = self._on_target(hz, rest)
            if known is not None:
                return known
        pitch = self._read(rest)
        if pitch is None or self._is_lost(pitch.hz):
            return None, 0.0
        looks = look(self._plain, pitch.hz, lines, np.zeros(0), self._rate)
        return (pitch.hz, pitch.share) if looks is not None and holds(looks) else (None, 0.0)

    def _is_lost(self, hz: float) -> bool:
        return self._lost is not None and same(hz, self._lost.hz)

    def _comes_back(self, rest: Rest) -> tuple[float, float] | None:
        """The note that was lost, when it has risen again from where it had fallen to, or has not fallen at all."""
        if self._lost is None:
            return None
        looks = look(self._plain, self._lost.hz, rest.lines, np.zeros(0), self._rate)
        if looks is None:
            return None
        level = latest(looks)
        lost = self._lost = replace(self._lost, least=min(self._lost.least, level), hops=self._lost.hops + 1)
        risen = level > COMES_BACK * lost.least
        stayed = level > (STAYS if lost.hops >= STAYS_HOPS else RETURNS) * lost.before
        if not (risen or stayed) or not holds(looks) or not clear(looks, rest):
            return None
        by_free = believed(looks, rest)
        if by_free is not None:
            return by_free
        pitch = self._read(rest)
        return (pitch.hz, pitch.share) if pitch is not None and same(pitch.hz, lost.hz) else None

    def _on_target(self, hz: float, rest: Rest) -> tuple[float, float] | None:
        """A player on the target of an answer that rings, whom the fit of our lines takes with them but for a part."""
        if self._is_lost(hz):
            return None
        looks = look(self._plain, hz, rest.lines, np.zeros(0), self._rate)
        if looks is None or not holds(looks):
            return None
        # Both free partials must be there: one alone may be of a note a fifth or an octave away.
        power = looks.power[-LOOK_DOWN:].mean(axis=0)
        pair = power[np.isin(looks.numbers, FREE)]
        return believed(looks, rest) if len(pair) and pair.min() > BOTH * power.sum() else None

    def _rest(self, lines: Signal) -> Rest:
        return rest_of(self._plain, self._bright, lines, self._rate)

    def _read(self, rest: Rest) -> Pitch | None:
        return read_rest(rest, self._removed, self._rate, self._hz)

    @staticmethod
    def _told(hz: float, share: float, heard: Heard) -> Heard:
        return Heard(heard.at, hz, min(share, 1.0), heard.level_db)

    @staticmethod
    def _nothing(heard: Heard, why: str) -> Heard:
        return Heard(heard.at, None, 0.0, heard.level_db, why)
