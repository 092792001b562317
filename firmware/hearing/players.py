"""All that listens to the players: the ear for one, the chord listener for several, with own sound taken out once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from firmware.heard_events import Heard
from firmware.hearing.answer_follow import AnswerFollower
from firmware.hearing.answer_lines import Sounding
from firmware.hearing.chord_listener import ChordListener, Told
from firmware.hearing.ear import Ear
from firmware.hearing.first_look import FirstLook
from firmware.hearing.own_stream import CleanedStream
from firmware.hearing.room import Room
from firmware.music.harmony import Harmony
from firmware.units import RATE, Samples


@dataclass(frozen=True, slots=True)
class Answers:
    """The box's own answer: `share` gives its next samples beside the microphone, `wanted` what is asked for now."""

    share: Callable[[int], Samples]
    wanted: Callable[[], Sounding]


class PlayersListener:
    """Hands the cleaned stream to the ear and to the chord listener.

    Parameters
    ----------
    rate : int
        Samples per second.
    answers : Answers or None
        The box's own answers. They are left in the stream, because they sound only while a player does, when nothing
        can be fitted; the player is followed through them instead.
    """

    def __init__(self, rate: int = RATE, answers: Answers | None = None) -> None:
        self._stream = CleanedStream(rate)
        self._ear = Ear(rate, self._stream)
        self._first = FirstLook(rate)
        self._told_at = 0
        self._chords = ChordListener(rate, self._stream)
        self._answers = answers
        self._follower = AnswerFollower(self._stream.rate, self._stream.hop, answers.wanted) if answers else None

    def attend(self, harmony: Harmony | None, told: bool = False) -> None:  # noqa: FBT001, FBT002 - as the command says it
        """Read held chords by this harmony from the next block on, or none; may be called from any thread."""
        self._chords.attend(harmony, told)

    def amplify(self, gain_db: float) -> None:
        """Set the gain of the microphone in dB; `process` is given the microphone without it."""
        self._stream.amplify(gain_db)
        self._first.amplify(gain_db)

    def learn(self, room: Room) -> None:
        """Go by what the room check has learned, from the next hop on."""
        self._stream.learn(room)

    def process(self, mic: Samples, own: Samples) -> tuple[Heard | Told, ...]:
        """Take in a block of the microphone, before its gain, and of what the box played, both shape (n,)."""
        told: list[Heard | Told] = list(self._chords.turn())
        if self._answers is not None:
            own = own - self._answers.share(len(own))
        first = self._first.process(mic, own)
        if first is not None and (self._follower is None or not self._follower.busy):
            told.append(self._in_order(first))
        for hop in self._stream.process(mic, own):
            heard, several = self._ear.hear(hop), self._chords.hear(hop)
            if self._follower is not None:
                heard = self._follower.hear(hop.rest, heard, hop.removed_power)
                several = () if self._follower.busy else several
            told.extend((self._in_order(heard), *several))
        return tuple(told)

    def _in_order(self, heard: Heard) -> Heard:
        """The reading, not before one that was told already: a short window is younger than a long one after it."""
        self._told_at = max(self._told_at, heard.at)
        return replace(heard, at=self._told_at)
